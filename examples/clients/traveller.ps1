# Post a traveller in turn, print its stacks, keep its record: .\traveller.ps1 REQUEST RECORD [ADDRESS]
# Windows PowerShell 5.1 or PowerShell 7. The request says `in_turn` and asks for a record.
param(
    [Parameter(Mandatory = $true)] [string] $RequestFile,
    [Parameter(Mandatory = $true)] [string] $RecordFile,
    [string] $Address = 'http://127.0.0.1:8000'
)
$ErrorActionPreference = 'Stop'

$body = [System.IO.File]::ReadAllBytes((Resolve-Path -LiteralPath $RequestFile).Path)
$answer = Invoke-RestMethod -Method Post -Uri "$Address/v1/stacks" `
    -ContentType 'application/json' -Body $body -TimeoutSec 60
foreach ($stack in $answer.stacks) {
    Write-Output "$($stack.target): $(($stack.blocks | ForEach-Object { $_.nominal }) -join ' + ')"
}
ConvertTo-Json $answer.record -Depth 20 | Set-Content -LiteralPath $RecordFile -Encoding UTF8
Write-Output "record: $($answer.record.request_sha256)"
