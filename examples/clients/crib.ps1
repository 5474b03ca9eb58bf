# At the counter of a tool crib. Windows PowerShell 5.1 or PowerShell 7.
#   .\crib.ps1 plan REQUEST KEY                          promise blocks to a job
#   .\crib.ps1 issue SITE BLOCK                          a block goes out, by a scan of its id
#   .\crib.ps1 return SITE BLOCK [CONDITION] [REASON]    and comes back: damaged 'burr at the edge'
#   .\crib.ps1 replan PLAN [REASON]                      other blocks for those that failed
# $env:CRIB_ADDRESS is http://127.0.0.1:8000 if not set; $env:CRIB_KEY is the API key, if wanted.
# Ends with 1 if the service refuses: of a plan, 409 says who has the blocks.
param(
    [Parameter(Mandatory = $true)] [ValidateSet('plan', 'issue', 'return', 'replan')] [string] $Command,
    [Parameter(Mandatory = $true)] [string] $First,
    [string] $Second,
    [string] $Third = 'fit',
    [string] $Fourth
)
$ErrorActionPreference = 'Stop'
$address = if ($env:CRIB_ADDRESS) { $env:CRIB_ADDRESS } else { 'http://127.0.0.1:8000' }

function Send([string] $path, [byte[]] $body, [string] $key) {
    $headers = @{}
    if ($env:CRIB_KEY) { $headers['Authorization'] = "Bearer $($env:CRIB_KEY)" }
    if ($key) { $headers['Idempotency-Key'] = $key }
    for ($try = 1; ; $try++) {
        try {
            return Invoke-RestMethod -Method Post -Uri "$address$path" -Headers $headers `
                -ContentType 'application/json' -Body $body -TimeoutSec 60
        } catch {
            $response = $_.Exception.Response
            if ($response -and @(429, 503) -contains [int]$response.StatusCode -and $try -lt 5) {
                # A busy service says how long to wait; the header has another form in PowerShell 7.
                $wait = if ($response.Headers.RetryAfter) { $response.Headers.RetryAfter.Delta.TotalSeconds }
                        else { [int]$response.Headers['Retry-After'] }
                Start-Sleep -Seconds ([Math]::Max(1, $wait))
                continue
            }
            # The connection broke, and nobody knows whether it was done. With the same key it may
            # be sent again: it is not done twice, and the first answer comes back.
            if (-not $response -and $key -and $try -lt 5) {
                Start-Sleep -Seconds 1
                continue
            }
            # The service says why: title, detail, faults, and of blocks that are taken, by whom.
            if ($_.ErrorDetails) { Show-Problem $_.ErrorDetails.Message } else { Write-Output "$_" }
            exit 1
        }
    }
}

function Show-Problem([string] $text) {
    try { $problem = ConvertFrom-Json $text } catch { Write-Host $text; return }
    Write-Host "$($problem.title) - $($problem.detail)"
    foreach ($fault in $problem.errors) { Write-Host "  $($fault.pointer): $($fault.detail)" }
    foreach ($each in $problem.taken) {
        Write-Host "  $($each.block) has job $($each.job) until $($each.ends_at)"
    }
}

# Bytes, not text: Windows PowerShell would send text in another encoding.
function ConvertTo-Body($value) { , [System.Text.Encoding]::UTF8.GetBytes((ConvertTo-Json $value -Depth 5)) }

function Show-Plan($plan) {
    Write-Output "plan: $($plan.id)"
    foreach ($stack in $plan.answer.stacks) {
        Write-Output "$($stack.target): $(($stack.blocks | ForEach-Object { $_.id }) -join ' + ')"
    }
}

switch ($Command) {
    'plan' {
        $body = [System.IO.File]::ReadAllBytes((Resolve-Path -LiteralPath $First).Path)
        Show-Plan (Send '/v1/plans' $body $Second)
    }
    'issue' {
        $answer = Send "/v1/sites/$First/issues" (ConvertTo-Body @{ blocks = @($Second) })
        foreach ($loan in $answer.loans) {
            Write-Output "$($loan.block) is out for $($loan.plan) until $($loan.due_at)"
        }
    }
    'return' {
        $back = @{ id = $Second; condition = $Third }
        if ($Fourth) { $back['reason'] = $Fourth }
        $answer = Send "/v1/sites/$First/returns" (ConvertTo-Body @{ blocks = @($back) })
        Write-Output "$Second is back: $($answer.blocks[0].condition)"
        foreach ($risk in $answer.at_risk) {
            Write-Output "at risk: $($risk.plan) of job $($risk.job) from $($risk.starts_at)"
        }
    }
    'replan' {
        $why = if ($Second) { @{ reason = $Second } } else { @{} }
        Show-Plan (Send "/v1/plans/$First/replan" (ConvertTo-Body $why))
    }
}
