package analyze

// Codes of findings.
const (
	CodeImplausible      = "implausible_signal"
	CodeFailedStart      = "failed_start"
	CodeStalled          = "stalled"
	CodePressureLost     = "pressure_lost"
	CodeLimitBroken      = "limit_broken"
	CodeModuleSilent     = "module_silent"
	CodeUnexplained      = "unexplained_standstill"
	CodeCounterDisagrees = "counter_disagrees"
	CodeLimitBorderline  = "limit_borderline"
	CodeNoRestartRequest = "no_restart_request"
	CodeCannotTell       = "cannot_tell"
	CodeDipUndersampled  = "dip_undersampled"
	CodeCounterReset     = "counter_reset"
	CodeGap              = "gap"
	CodeLogDamaged       = "log_damaged"
)

// Codes of findings about several logs, beside those of the counter.
const (
	CodeLogTwice             = "log_twice"
	CodeOrderByStart         = "order_by_start"
	CodeStartUnknown         = "start_unknown"
	CodeZoneUnknown          = "zone_unknown"
	CodeLogsOverlap          = "logs_overlap"
	CodeCounterNotSeen       = "counter_not_seen"
	CodeOperationsUnrecorded = "operations_unrecorded"
)
