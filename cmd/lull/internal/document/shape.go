package document

import "lull/decode"

// The structs below are the JSON documents, key by key and in this order. All
// times are seconds from the first frame. Keys are added, never renamed.

type document struct {
	head
	Map  mapJSON `json:"map"`
	Logs []any   `json:"logs"` // logEpisodes or logStandstills
}

// formatOnly is the head of every document. One that judges logs has the longer head, which
// also names the lull and the map that made it.
type formatOnly struct {
	Format int `json:"format"`
}

var format = formatOnly{1}

type head struct {
	formatOnly
	Tool toolJSON `json:"tool"`
}

func headOf(version string) head { return head{format, toolJSON{Name: "lull", Version: version}} }

type toolJSON struct {
	Name    string `json:"name"`
	Version string `json:"version"`
}

type mapJSON struct {
	Name    string `json:"name"`
	SHA256  string `json:"sha256"`
	Vehicle string `json:"vehicle"`
}

func mapOf(m *decode.Map) mapJSON { return mapJSON{Name: m.Name, SHA256: m.SHA256, Vehicle: m.Vehicle} }

type logHead struct {
	Name          string        `json:"name"`
	SHA256        string        `json:"sha256"`
	Bytes         int64         `json:"bytes"`
	Lines         int64         `json:"lines"`
	Frames        int64         `json:"frames"`
	RejectedLines int64         `json:"rejected_lines"`
	ErrorFrames   int64         `json:"error_frames"`
	Start         *string       `json:"start"`
	Span          *float64      `json:"span"`
	Interfaces    []string      `json:"interfaces"`
	Remarks       []remarkJSON  `json:"remarks"`
	Trust         trustJSON     `json:"trust"`
	Summary       summaryJSON   `json:"summary"`
	Starter       starterJSON   `json:"starter"`
	Exercised     exercisedJSON `json:"exercised"`
}

type logTail struct {
	Standstills []standstillJSON `json:"standstills"`
	Starts      []startJSON      `json:"starts"`
	Silences    []silenceJSON    `json:"silences"`
	Gaps        []gapJSON        `json:"gaps"`
	Findings    []findingJSON    `json:"findings"`
}

type logEpisodes struct {
	logHead
	Episodes []episodeJSON `json:"episodes"`
	logTail
}

type logStandstills struct {
	logHead
	logTail
}

type trustJSON struct {
	Verdict string      `json:"verdict"`
	Reasons []doubtJSON `json:"reasons"`
}

type doubtJSON struct {
	Code   string  `json:"code"`
	Signal *string `json:"signal"`
	Text   string  `json:"text"`
}

type remarkJSON struct {
	Code   string      `json:"code"`
	Count  int64       `json:"count"`
	Line   *int64      `json:"line"`
	T      *float64    `json:"t"`
	Text   string      `json:"text"`
	Places []placeJSON `json:"places"`
}

type placeJSON struct {
	Line   int64  `json:"line"`
	Column *int64 `json:"column"`
	Why    string `json:"why"`
}

type summaryJSON struct {
	Standstills       int     `json:"standstills"`
	Opportunities     int     `json:"opportunities"`
	Stops             int     `json:"stops"`
	Episodes          int     `json:"episodes"`
	StarterOperations int     `json:"starter_operations"`
	EngineOff         float64 `json:"engine_off"`
	FuelSaved         float64 `json:"fuel_saved"`
}

type starterJSON struct {
	Operations operationsJSON `json:"operations"`
	// Numbers and a bool, or absentJSON where the map has no counter.
	First  any `json:"first"`
	Last   any `json:"last"`
	Step   any `json:"step"`
	Agrees any `json:"agrees"`
}

type operationsJSON struct {
	Key     int `json:"key"`
	Restart int `json:"restart"`
	Retry   int `json:"retry"`
}

type absentJSON struct {
	Absent string `json:"absent"`
}

type exercisedJSON struct {
	Requests      []requestCountJSON `json:"requests"`
	Inhibits      []inhibitCountJSON `json:"inhibits"`
	ChangesOfMind int                `json:"changes_of_mind"`
	Signals       []extentJSON       `json:"signals"`
}

type requestCountJSON struct {
	Name     string `json:"name"`
	Episodes int    `json:"episodes"` // that it asked for
	Also     int    `json:"also"`     // further ones in which it was true beside the one told
}

type inhibitCountJSON struct {
	Name        string `json:"name"`
	Standstills int    `json:"standstills"` // that it blocked
	Also        int    `json:"also"`        // further ones in which it was true
}

// extentJSON is the lowest and highest value of a signal that conditions read,
// null if it was never seen.
type extentJSON struct {
	Name string   `json:"name"`
	Unit string   `json:"unit"`
	Min  *float64 `json:"min"`
	Max  *float64 `json:"max"`
}

type instantJSON struct {
	T    float64 `json:"t"`
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

type eventJSON struct {
	instantJSON
	From string `json:"from"`
}

type requestJSON struct {
	Name string `json:"name"`
	By   string `json:"by"`
	instantJSON
}

type firstRequestJSON struct {
	requestJSON
	Also []requestJSON `json:"also"`
}

type episodeJSON struct {
	N        int               `json:"n"`
	Outcome  string            `json:"outcome"`
	Stop     eventJSON         `json:"stop"`
	Rest     *instantJSON      `json:"rest"`
	Request  *firstRequestJSON `json:"request"`
	Decision *eventJSON        `json:"decision"`
	Cranks   []eventJSON       `json:"cranks"`
	Running  *instantJSON      `json:"running"`
	Metrics  metricsJSON       `json:"metrics"`
	Limits   []limitJSON       `json:"limits"`
	Notes    []string          `json:"notes"`
}

type limitJSON struct {
	Metric  string   `json:"metric"`
	Min     *float64 `json:"min,omitempty"` // left out, as in the map, where the limit has no such end
	Max     *float64 `json:"max,omitempty"`
	Verdict string   `json:"verdict"`
}

type standstillJSON struct {
	N           int           `json:"n"`
	Start       instantJSON   `json:"start"`
	End         instantJSON   `json:"end"`
	Opportunity bool          `json:"opportunity"`
	NotCounted  *string       `json:"not_counted"`
	Open        bool          `json:"open"`
	Stopped     bool          `json:"stopped"`
	Episode     *int          `json:"episode"`
	StopDelay   *metricJSON   `json:"stop_delay"`
	Inhibits    []inhibitJSON `json:"inhibits"`
	Codes       []codeJSON    `json:"codes"`
	Covered     float64       `json:"covered"`
	Reason      *string       `json:"reason"`
	Unexplained bool          `json:"unexplained"`
	CannotTell  []string      `json:"cannot_tell"`
}

type inhibitJSON struct {
	Name      string         `json:"name"`
	Share     float64        `json:"share"`
	Intervals [][2]float64   `json:"intervals"`
	State     string         `json:"state"`
	Measured  []measuredJSON `json:"measured"`
}

type measuredJSON struct {
	Signal  string   `json:"signal"`
	Value   *float64 `json:"value"`
	Unit    string   `json:"unit"`
	Against string   `json:"against"`
}

type codeJSON struct {
	Name  string  `json:"name"`
	Share float64 `json:"share"`
}

type startJSON struct {
	N       int          `json:"n"`
	Kind    string       `json:"kind"`
	Episode *int         `json:"episode"`
	Crank   eventJSON    `json:"crank"`
	Running *instantJSON `json:"running"`
	Metrics metricsJSON  `json:"metrics"`
}

type silenceJSON struct {
	ID       string  `json:"id"`
	Bus      string  `json:"bus"`
	Module   *string `json:"module"`
	Start    float64 `json:"start"`
	Duration float64 `json:"duration"`
	Period   float64 `json:"period"`
	Episode  *int    `json:"episode"`
}

type gapJSON struct {
	Start float64 `json:"start"`
	End   float64 `json:"end"`
}

type findingJSON struct {
	Code     string   `json:"code"`
	Severity string   `json:"severity"`
	Text     string   `json:"text"`
	Evidence []string `json:"evidence"`
}
