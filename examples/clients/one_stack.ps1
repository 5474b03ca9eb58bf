# Ask for one stack and print it: .\one_stack.ps1 [ADDRESS]
# Windows PowerShell 5.1 or PowerShell 7.
param([string] $Address = 'http://127.0.0.1:8000')
$ErrorActionPreference = 'Stop'

# Lengths are text, so that no digit is lost.
$request = @{
    unit = 'in'
    sets = @(@{ id = 'crib'; composition = 'inch-81'; grade = 'AS-1' })
    targets = @(@{ ref = 'op10'; kind = 'length'; length = '0.3506' })
}
$answer = Invoke-RestMethod -Method Post -Uri "$Address/v1/stacks" `
    -ContentType 'application/json' -Body (ConvertTo-Json $request -Depth 5) -TimeoutSec 60
foreach ($stack in $answer.stacks) {
    Write-Output "$($stack.target): $(($stack.blocks | ForEach-Object { $_.nominal }) -join ' + ')"
}
