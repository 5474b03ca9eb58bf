{{- define "wrung.name" -}}
{{- if contains .Chart.Name .Release.Name }}{{ .Release.Name | trunc 50 }}{{ else }}{{ printf "%s-%s" .Release.Name .Chart.Name | trunc 50 }}{{ end }}
{{- end }}

{{- define "wrung.selector" -}}
app.kubernetes.io/name: {{ .Chart.Name }}
app.kubernetes.io/instance: {{ .Release.Name }}
{{- end }}

{{- define "wrung.labels" -}}
{{ include "wrung.selector" . }}
app.kubernetes.io/version: {{ .Chart.AppVersion | quote }}
app.kubernetes.io/managed-by: {{ .Release.Service }}
helm.sh/chart: {{ .Chart.Name }}-{{ .Chart.Version }}
{{- end }}

{{- define "wrung.image" -}}
{{- with .Values.image -}}
{{ .repository }}{{ if .digest }}@{{ .digest }}{{ else }}:{{ .tag | default $.Chart.AppVersion }}{{ end }}
{{- end }}
{{- end }}

{{/* What every pod has: no rights, no token of the cluster, and nowhere to write but /tmp. */}}
{{- define "wrung.pod" -}}
automountServiceAccountToken: false
enableServiceLinks: false
securityContext:
  runAsNonRoot: true
  runAsUser: 10001
  runAsGroup: 10001
  fsGroup: 10001
  seccompProfile: {type: RuntimeDefault}
{{- with .Values.image.pullSecrets }}
imagePullSecrets: {{- range . }}
  - name: {{ . }}
{{- end }}
{{- end }}
{{- with .Values.nodeSelector }}
nodeSelector: {{- toYaml . | nindent 2 }}
{{- end }}
{{- with .Values.tolerations }}
tolerations: {{- toYaml . | nindent 2 }}
{{- end }}
{{- with .Values.affinity }}
affinity: {{- toYaml . | nindent 2 }}
{{- end }}
{{- end }}

{{- define "wrung.container" -}}
image: {{ include "wrung.image" . }}
imagePullPolicy: {{ .Values.image.pullPolicy }}
securityContext:
  allowPrivilegeEscalation: false
  readOnlyRootFilesystem: true
  capabilities: {drop: [ALL]}
volumeMounts:
  - {name: tmp, mountPath: /tmp}
{{- if .Values.store.secret }}
  - {name: store, mountPath: /run/secrets/store, readOnly: true}
{{- end }}
{{- end }}

{{/* (list . key of the secret): only that address is mounted. */}}
{{- define "wrung.volumes" -}}
{{- $ := index . 0 -}}
{{- $key := index . 1 -}}
- name: tmp
  emptyDir: {medium: Memory, sizeLimit: 64Mi}
{{- with $.Values.store.secret }}
- name: store
  secret:
    secretName: {{ . }}
    defaultMode: 0440
    items: [{key: {{ $key }}, path: url}]
{{- end }}
{{- end }}

{{/* (list . values of the part): variables of `serve` and `worker`. */}}
{{- define "wrung.environment" -}}
{{- $ := index . 0 -}}
{{- $part := index . 1 -}}
{{- if $.Values.store.secret }}
- {name: WRUNG_STORE_URL_FILE, value: /run/secrets/store/url}
{{- end }}
- {name: WRUNG_SOLVE_WORKERS, value: {{ $part.solveWorkers | quote }}}
- {name: WRUNG_SEARCH_MEMORY_MB, value: {{ $part.searchMemoryMb | quote }}}
- {name: WRUNG_GRACE_SECONDS, value: {{ $part.graceSeconds | quote }}}
{{- range $name, $value := $.Values.settings }}
- {name: {{ $name }}, value: {{ $value | quote }}}
{{- end }}
{{- end }}

{{/* As much memory as the README says, and as many CPUs as searches. */}}
{{- define "wrung.resources" -}}
{{- $memory := printf "%dM" (add 220 (mul .solveWorkers .searchMemoryMb)) -}}
requests: {cpu: {{ .solveWorkers | quote }}, memory: {{ $memory }}}
limits: {memory: {{ $memory }}}
{{- end }}

{{/* What every pod may reach: names, and the database. */}}
{{- define "wrung.egress" -}}
- ports: [{protocol: UDP, port: 53}, {protocol: TCP, port: 53}]
{{- if .Values.store.secret }}
- ports: [{protocol: TCP, port: {{ .Values.networkPolicy.databasePort }}}]
  {{- with .Values.networkPolicy.databaseTo }}
  to: {{- toYaml . | nindent 4 }}
  {{- end }}
{{- end }}
{{- end }}
