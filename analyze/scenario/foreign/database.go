package foreign

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// style is how a maker names what is in a database.
type style uint8

const (
	camel style = iota
	snake
	capitals
	german
	styleCount
)

// names of the quantities in each style.
var signalNames = [quantityCount][styleCount]string{
	engineSpeed:       {"EngineSpeed", "eng_speed", "ENG_RPM", "MO_Drehzahl_01"},
	roadSpeed:         {"VehicleSpeed", "veh_spd", "VEH_SPD_AVG", "ESP_v_Signal"},
	wheelFrontLeft:    {"WheelSpeedFrL", "whl_spd_fl", "WSPD_FL", "ESP_VL_Radgeschw"},
	wheelFrontRight:   {"WheelSpeedFrR", "whl_spd_fr", "WSPD_FR", "ESP_VR_Radgeschw"},
	wheelRearLeft:     {"WheelSpeedReL", "whl_spd_rl", "WSPD_RL", "ESP_HL_Radgeschw"},
	wheelRearRight:    {"WheelSpeedReR", "whl_spd_rr", "WSPD_RR", "ESP_HR_Radgeschw"},
	turbineSpeed:      {"TransInputSpeed", "turbine_speed", "TRN_IN_RPM", "GE_Turbinendrehzahl"},
	outputSpeed:       {"TransOutputSpeed", "out_shaft_speed", "TRN_OUT_RPM", "GE_Abtriebsdrehzahl"},
	targetIdle:        {"TargetIdleSpeed", "idle_speed_tgt", "ENG_IDLE_TGT", "MO_Solldrehzahl_LL"},
	voltage:           {"BatteryVoltage", "batt_volt", "BAT_U", "BEM_U_Batterie"},
	current:           {"BatteryCurrent", "batt_curr", "BAT_I", "BEM_I_Batterie"},
	charge:            {"BatteryStateOfCharge", "batt_soc", "BAT_SOC", "BEM_SOC"},
	supply:            {"SupplyVoltage", "ecu_supply_volt", "GW_UB", "GW_U_Klemme30"},
	fuelRate:          {"FuelConsumptionRate", "fuel_rate", "FUEL_FLOW", "MO_Verbrauch_Mom"},
	holdPressure:      {"ClutchHoldPressure", "line_pressure", "TRN_LINE_P", "GE_Haltedruck"},
	acceleration:      {"LongitudinalAccel", "accel_long", "LONG_ACC", "ESP_Laengsbeschl"},
	lateral:           {"LateralAccel", "accel_lat", "LAT_ACC", "ESP_Querbeschl"},
	coolant:           {"EngineCoolantTemp", "eng_clnt_temp", "ECT", "MO_Kuehlmittel_Temp"},
	oilTemperature:    {"EngineOilTemp", "eng_oil_temp", "EOT", "MO_Oel_Temp"},
	intakeTemperature: {"IntakeAirTemp", "intake_air_temp", "IAT", "MO_Ansaugluft_Temp"},
	outside:           {"AmbientTemp", "ambient_temp", "AMB_T", "KBI_Aussen_Temp"},
	steering:          {"SteeringWheelAngle", "steer_angle", "SAS_ANGLE", "LWI_Lenkradwinkel"},
	steeringRate:      {"SteeringWheelRate", "steer_rate", "SAS_SPD", "LWI_Lenkradw_Geschw"},
	pedal:             {"AccelPedalPos", "accel_pedal", "APP", "MO_Fahrpedalrohwert"},
	throttle:          {"ThrottlePosition", "throttle_pos", "TPS", "MO_Drosselklappe"},
	torque:            {"EngineTorque", "eng_trq", "ENG_TQ_ACT", "MO_Mom_Ist"},
	alternatorDuty:    {"AlternatorDuty", "gen_duty", "ALT_DF", "GEN_Auslastung"},
	oilPressure:       {"EngineOilPressure", "eng_oil_press", "EOP", "MO_Oeldruck"},
	brakePressure:     {"BrakePressure", "brk_press", "BRK_P_MC", "ESP_Bremsdruck"},
	odometer:          {"Odometer", "odo_cnt", "ODO", "KBI_Kilometerstand"},
	fuelCounter:       {"TripFuel", "fuel_used", "FUEL_CNT", "MO_Verbrauch_Zaehler"},
	clock:             {"TimeOfDay", "clock_s", "CLK", "KBI_Uhrzeit"},
	uptime:            {"SystemTime", "up_time", "TIME_STAMP", "GW_Zeitstempel"},
	fan:               {"FanSpeed", "fan_speed", "FAN_RPM", "KL_Luefterdrehzahl"},
	gear:              {"CurrentGear", "gear_act", "GEAR", "GE_Fahrstufe_Ist"},
	lever:             {"GearLever", "prnd", "SHIFT_POS", "WH_Waehlhebel"},
	brakePressed:      {"BrakePedalPressed", "brk_pdl_sw", "BRK_SW", "ESP_Bremslicht"},
	stopCommand:       {"EngineStopRequest", "ss_stop_req", "ISG_STOP_CMD", "SSM_Stopp_Anf"},
	stopLamp:          {"StopStartLamp", "ss_lamp", "ISG_LAMP", "KBI_SSM_Lampe"},
	engineOff:         {"EngineStopped", "eng_off", "ENG_OFF", "MO_Motor_steht"},
	stopInhibited:     {"StopInhibited", "ss_inhibit", "ISG_INH", "SSM_Sperre"},
	stopAllowed:       {"StopEnabled", "ss_permit", "ISG_PERMIT", "SSM_Freigabe"},
	starterCommand:    {"StarterCommand", "starter_cmd", "STRT_CMD", "MO_Anlasser_Anf"},
	starterFeedback:   {"StarterRelayStatus", "starter_relay_fb", "STRT_RLY_ST", "MO_Anlasser_Rueck"},
	starterMode:       {"StarterMode", "starter_mode", "STRT_MODE", "MO_Starter_Modus"},
	cranking:          {"EngineRunningUp", "eng_startup", "ENG_RUNUP", "MO_Hochlauf"},
	ignition:          {"IgnitionOn", "ign_on", "IGN_SW", "ZAS_Kl_15"},
	turnLamp:          {"TurnIndicatorLamp", "turn_lamp", "TURN_LAMP", "BH_Blinker"},
	turnLeft:          {"TurnLampLeft", "turn_left_lamp", "TURN_L", "BH_Blinker_li"},
	turnRight:         {"TurnLampRight", "turn_right_lamp", "TURN_R", "BH_Blinker_re"},
	turnLever:         {"TurnLever", "turn_lever", "TURN_SW", "BH_Blinkerhebel"},
	airConditioning:   {"AirCondOn", "ac_on", "AC_SW", "KL_Klima_Ein"},
	cancelSwitch:      {"StopStartOffSwitch", "ss_off_sw", "ISG_OFF_SW", "SSM_Taste_Aus"},
	standstill:        {"VehicleStandstill", "veh_still", "VEH_STOP", "ESP_Stillstand"},
	running:           {"EngineRunning", "eng_running", "ENG_RUN", "MO_Motor_laeuft"},
	inhibitCode:       {"StopInhibitReason", "ss_inh_reason", "ISG_INH_RSN", "SSM_Sperrgrund"},
	starterCount:      {"StarterOperations", "starter_ops_total", "STRT_CNT", "MO_Start_Zaehler"},
	door:              {"DoorOpenDriver", "door_fl_open", "DR_SW_FL", "TSG_FT_Tuer_offen"},
	wanders:           {"InternalValue", "int_val", "INT_V", "XX_Intern"},
}

// decoys are signals of messages that are not on the bus: what they are called in
// any style, with their unit, length, factor and offset.
var decoys = []struct {
	name           string
	unit           string
	length         int
	factor, offset string
}{
	{"CruiseTargetSpeed", "km/h", 9, "1", ""}, {"tgt_eng_speed", "rpm", 16, "0.25", ""}, {"HV_BatteryVoltage", "V", 12, "0.25", ""},
	{"hv_batt_curr", "A", 14, "0.1", "-800"}, {"HV_BAT_SOC", "%", 8, "0.5", ""}, {"EngineOilLevel", "mm", 8, "0.5", ""},
	{"OilPumpSpeed", "rpm", 12, "2", ""}, {"MotorSpeedRear", "rpm", 16, "1", "-20000"}, {"FanSpeedRequest", "rpm", 8, "20", ""},
	{"SpeedLimitNavi", "km/h", 8, "1", ""}, {"TrailerBrakeStatus", "", 2, "1", ""}, {"ParkBrakeApplied", "", 1, "1", ""},
	{"BrakeFluidLow", "", 1, "1", ""}, {"StarterInhibitFault", "", 1, "1", ""}, {"WindSpeed", "m/s", 8, "0.5", ""}, {"CellVoltageMin", "V", 12, "0.001", ""},
	{"GEN_U_Soll", "V", 6, "0.1", "10.6"}, {"ACC_v_Wunsch", "km/h", 10, "0.32", ""}, {"KBI_angez_Geschw", "km/h", 10, "0.32", ""}, {"EM1_IstDrehzahl", "1/min", 16, "0.5", "-16384"},
	{"TURBO_RPM", "rpm", 16, "4", ""}, {"BATT_COOLANT_T", "degC", 8, "0.5", "-40"}, {"CABIN_T", "degC", 8, "0.5", "-40"}, {"RADAR_REL_SPD", "m/s", 11, "0.05", "-50"},
}

// unitNames are the spellings of units in databases, by style.
var unitNames = map[string][styleCount]string{
	"rpm": {"rpm", "1/min", "rpm", "Unit_MinutInver"}, "km/h": {"km/h", "kph", "km/h", "Unit_KiloMeterPerHour"}, "V": {"V", "V", "Volt", "Unit_Volt"},
	"A": {"A", "A", "Amp", "Unit_Amper"}, "%": {"%", "%", "%", "Unit_PerCent"}, "degC": {"degC", "C", "degC", "Unit_DegreCelsi"}, "kPa": {"kPa", "kPa", "kPa", "Unit_KiloPasca"},
	"L/h": {"L/h", "l/h", "l/h", "Unit_LiterPerHour"}, "m/s2": {"m/s2", "m/s^2", "m/s2", "Unit_MeterPerSeconSquar"}, "deg": {"deg", "deg", "deg", "Unit_DegreOfArc"}, "mph": {"mph", "mph", "MPH", "mph"},
}

// unitsOf gives the units of what has no role, too.
func unitOfQuantity(f *field) string {
	if f.unit != "" {
		return f.unit
	}
	if u, ok := unitOf[f.role]; ok {
		return u
	}
	switch f.of {
	case turbineSpeed, outputSpeed, targetIdle, fan:
		return "rpm"
	case oilTemperature, intakeTemperature, outside:
		return "degC"
	case lateral:
		return "m/s2"
	case pedal, throttle, alternatorDuty:
		return "%"
	case oilPressure, brakePressure:
		return "kPa"
	case roadSpeed:
		return "km/h"
	}
	return ""
}

// database is a DBC text that describes the bus, and messages that are not on it.
func (l *layout) database() []byte {
	d := newDice(l.seed, 61)
	b := &base{style: style(d.IntN(int(styleCount))), dice: d}
	b.text.WriteString("VERSION \"\"\n\nNS_ :\n\nBS_:\n\nBU_: EngineUnit BrakeUnit BodyUnit Gateway Tester\n\n")
	// In no order: those of the bus and others.
	var parts []func()
	for i, s := range l.senders {
		if s.messages[0].module == "other" && d.chance(0.5) {
			continue // a database seldom has all
		}
		parts = append(parts, func() { b.sender(i, s) })
	}
	for i := range 10 + d.IntN(40) {
		parts = append(parts, func() { b.absent(l, i) })
	}
	d.Shuffle(len(parts), func(i, j int) { parts[i], parts[j] = parts[j], parts[i] })
	for _, part := range parts {
		part()
	}
	b.text.WriteString("CM_ \"made up\";\n")
	slices.Sort(b.values)
	b.text.WriteString(strings.Join(b.values, ""))
	return []byte(b.text.String())
}

// base writes a database.
type base struct {
	style  style
	dice   dice
	text   strings.Builder
	values []string
}

func (b *base) node(module string) string {
	switch module {
	case "engine control", "truck":
		return "EngineUnit"
	case "brake control", "steering":
		return "BrakeUnit"
	case "body unit", "instruments":
		return "BodyUnit"
	}
	return "Gateway"
}

// sender writes the message of one identifier, with its pages.
func (b *base) sender(number int, s *sender) {
	first := s.messages[0]
	id := first.id
	if first.extended {
		id |= 1 << 31
	}
	words := map[string]string{"engine control": "Engine", "brake control": "Brake", "body unit": "Body", "gearbox": "Trans", "battery sensor": "Battery", "other": "Misc"}
	name := words[first.module]
	if name == "" {
		name = "Msg"
	}
	fmt.Fprintf(&b.text, "BO_ %d %s_%02d: %d %s\n", id, name, number, first.length, b.node(first.module))
	used := map[string]int{}
	unique := func(name string) string {
		used[name]++
		if n := used[name]; n > 1 {
			return fmt.Sprintf("%s_%d", name, n)
		}
		return name
	}
	if first.pageBits != nil {
		b.signal(unique("Mux"), " M", first.pageBits, false, false, "1", "0", 0, 15, "")
	}
	for _, m := range s.messages {
		mux := ""
		if m.pageBits != nil {
			mux = fmt.Sprintf(" m%d", m.page)
		}
		if m.counter != nil {
			b.signal(unique([]string{"AliveCounter", "cnt", "MC", "BZ"}[b.style]), mux, m.counter, false, false, "1", "0", 0, float64(int64(1)<<len(m.counter)-1), "")
		}
		if m.check != noCheck {
			b.signal(unique([]string{"Checksum", "crc", "CHK", "CRC"}[b.style]), mux, bitsOf(8*m.checkAt, 8, false), false, false, "1", "0", 0, 255, "")
		}
		for _, f := range m.fields {
			name := unique(b.nameOf(f))
			factor, offset := f.factor, f.offset
			if factor == "" {
				factor = "1"
			}
			if offset == "" {
				offset = "0"
			}
			low, high := f.zero, mul(float64(int64(1)<<f.length-1), f.each)+f.zero
			if f.signed {
				half := mul(float64(int64(1)<<(f.length-1)), f.each)
				low, high = f.zero-half, f.zero+half-f.each
			}
			b.signal(name, mux, f.bits(), f.big, f.signed, factor, offset, low, high, b.unit(unitOfQuantity(f)))
			if text := f.labels(); text != "" {
				b.values = append(b.values, fmt.Sprintf("VAL_ %d %s %s ;\n", id, name, text))
			}
		}
	}
	b.text.WriteString("\n")
}

func (b *base) nameOf(f *field) string {
	name := signalNames[f.of][b.style]
	switch {
	case f.flips > 0:
		name = []string{"Status", "st_bit", "ST", "Status_Bit"}[b.style]
	case f.of == roadSpeed && f.role != "" && f.gain != 1 && f.unit == "":
		name = []string{"DisplayedSpeed", "disp_spd", "CLU_SPD", "KBI_angez_Geschw"}[b.style]
	}
	return name
}

func (b *base) unit(unit string) string {
	if names, ok := unitNames[unit]; ok {
		return names[b.style]
	}
	return unit
}

// signal writes one line.
func (b *base) signal(name, mux string, bits []int, big, signed bool, factor, offset string, low, high float64, unit string) {
	start, order, sign := bits[len(bits)-1], 1, "+"
	if big {
		start, order = bits[0], 0
	}
	if signed {
		sign = "-"
	}
	decimal := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	fmt.Fprintf(&b.text, " SG_ %s%s : %d|%d@%d%s (%s,%s) [%s|%s] %q Gateway\n", name, mux, start, len(bits), order, sign, factor, offset, decimal(low), decimal(high), unit)
}

// labels are the words of a state's values.
func (f *field) labels() string {
	switch f.of {
	case brakePressed:
		return fmt.Sprintf(`%d "not pressed" %d "pressed"`, f.off(), 1-f.off()) + f.unknown()
	case stopCommand, starterCommand, ignition, airConditioning:
		return fmt.Sprintf(`%d "off" %d "on"`, f.off(), 1-f.off()) + f.unknown()
	case lever:
		return `0 "P" 1 "R" 2 "N" 3 "D"`
	case turnLamp:
		return `0 "off" 1 "left" 2 "right"`
	case inhibitCode:
		return `0 "none" 4 "battery refresh charge" 5 "battery charge low" 6 "brake vacuum weak"`
	}
	return ""
}

func (f *field) unknown() string {
	if f.length == 2 {
		return ` 2 "error" 3 "not available"`
	}
	return ""
}

// absent writes a message that is not on the bus.
func (b *base) absent(l *layout, number int) {
	id, extended := l.identifier()
	if extended {
		id |= 1 << 31
	}
	fmt.Fprintf(&b.text, "BO_ %d Spare_%02d: 8 Gateway\n", id, number)
	at := 0
	seen := map[string]bool{}
	for range 1 + b.dice.IntN(4) {
		x := decoys[b.dice.IntN(len(decoys))]
		if seen[x.name] || at+16 > 64 {
			continue
		}
		seen[x.name] = true
		offset := x.offset
		if offset == "" {
			offset = "0"
		}
		low := number64(offset)
		b.signal(x.name, "", bitsOf(at, x.length, false), false, false, x.factor, offset, low, low+mul(float64(int64(1)<<x.length-1), number64(x.factor)), x.unit)
		at += 16
	}
	b.text.WriteString("\n")
}

func number64(text string) float64 { return number(text, 0) }
