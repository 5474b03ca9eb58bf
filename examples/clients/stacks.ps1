# Post a request, again if the service is busy, and print its stacks: .\stacks.ps1 REQUEST [ADDRESS]
# Windows PowerShell 5.1 or PowerShell 7.
param(
    [Parameter(Mandatory = $true)] [string] $RequestFile,
    [string] $Address = 'http://127.0.0.1:8000'
)
$ErrorActionPreference = 'Stop'

# Bytes, not text: Windows PowerShell would send text in another encoding.
$body = [System.IO.File]::ReadAllBytes((Resolve-Path -LiteralPath $RequestFile).Path)
for ($try = 1; ; $try++) {
    try {
        $answer = Invoke-RestMethod -Method Post -Uri "$Address/v1/stacks" `
            -ContentType 'application/json' -Body $body -TimeoutSec 60
        break
    } catch {
        # A busy service says how long to wait. Posting again is safe: nothing is stored.
        $response = $_.Exception.Response
        if ($response -and [int]$response.StatusCode -eq 503 -and $try -lt 5) {
            # The header has another form in PowerShell 7 than in 5.1.
            $wait = if ($response.Headers.RetryAfter) { $response.Headers.RetryAfter.Delta.TotalSeconds }
                    else { [int]$response.Headers['Retry-After'] }
            Start-Sleep -Seconds ([Math]::Max(1, $wait))
            continue
        }
        # The service says what is wrong in the body: title, detail, and a pointer for each fault.
        if ($_.ErrorDetails) { Write-Output $_.ErrorDetails.Message } else { Write-Output "$_" }
        exit 1
    }
}

function Name($stack) { "$($stack.target) $($stack.role)".TrimEnd() }

Write-Output "outcome: $($answer.outcome)"
foreach ($stack in $answer.stacks) {
    $blocks = ($stack.blocks | ForEach-Object { $_.nominal }) -join ' + '
    $within = "within $($stack.worst_case_error) $($answer.small_unit)"
    Write-Output "$(Name $stack): $blocks = $($stack.nominal) $($answer.unit), $within"
}
foreach ($unmet in $answer.unmet) {
    Write-Output "$(Name $unmet): no stack, $($unmet.reason.Replace('_', ' '))"
}
