package scenario

// ask is what makes the car restart, or the driver go, after a standstill.
type ask uint8

const (
	byBrake ask = iota
	byTurn
	bySteering
	byCharge
	byNothing // the drive ends, or the driver turns the ignition off
)

// since is the moment from which a leg's delay counts.
type since uint8

const (
	sinceStand since = iota // the road speed became 0
	sinceStop               // the engine was told to stop
	sinceRest               // the engine came to rest
)

// block is what keeps the engine running at a standstill.
type block uint8

const (
	noBlock block = iota
	blockCabin
	blockDriver
	blockRefresh // the battery is due for a full charge: told by the car's own code
	blockVacuum  // weak brake booster vacuum: told by the car's own code
	blockHidden  // nothing on the bus tells
)

// leg is one piece of a drive: speed up, cruise, brake, stand.
type leg struct {
	cruise float64 // km/h
	hold   float64 // s at that speed
	by     ask
	from   since
	after  float64 // s from there to the request, or to going on

	block    block
	blockFor float64 // s of the standstill; 0: all of it

	barren   int     // cranks in which the mixture does not burn
	stall    bool    // the engine dies at the standstill, unasked
	keyOff   bool    // the driver turns the ignition off at the request
	keyAfter float64 // s after which a driver turns the key where the car gave up; 0: never
	rolls    bool    // the car stops its engine while it still rolls
	lampOn   bool    // the turn lamp blinks from before the standstill to its end
	dabs     float64 // s for which the brake is pressed on the way, without stopping
	lingers  float64 // s for which the driver waits longer than usual before this leg
	side     int64   // turn lamp: 2 right, else left
}

// temper is how a control unit behaves.
type temper struct {
	stopAfter  float64 // s from standing, brake pressed, to the stop command
	cutAfter   float64 // s from the stop command to the end of injection
	react      float64 // s from seeing a request to the decision
	engage     float64 // s from the decision to the starter command
	catches    float64 // rpm: up to here the starter can engage a turning engine; 0: never
	settles    float64 // s that such a car waits at rest
	keepsStop  bool    // while waiting for rest the stop command stays on
	holdsCrank float64 // s of cranking after which it gives up
	tries      int     // cranks of one restart
}

func quickTemper() temper {
	return temper{stopAfter: 0.7, cutAfter: 0.11, react: 0.018, engage: 0.022, catches: 420, holdsCrank: 1.5, tries: 3}
}

func waitingTemper() temper {
	return temper{stopAfter: 1.0, cutAfter: 0.10, react: 0.022, engage: 0.030, settles: 0.35, holdsCrank: 1.5, tries: 3}
}

// plan is all that makes a drive.
type plan struct {
	seed    uint64
	start   int64 // ns since the epoch
	machine machine
	temper  temper
	legs    []leg
	end     float64 // s after the last leg

	charge   float64 // %
	coolant  float64 // degC
	warms    float64 // degC a second
	outside  float64
	starts   int64   // the starter counter at the beginning
	holds    float64 // kPa
	sagLag   float64
	slips    bool       // a clutch that is filled too late slips before it takes hold
	goAfter  float64    // s from the request to the pedal
	resetAt  float64    // V below which the body and radio units reset; 0: never
	resetFor float64    // s that they are away
	pause    [2]float64 // s from the start between which the recorder wrote nothing

	keyed    float64 // s from ignition on to the key's start; 0: 0.6
	idles    float64 // s for which the engine idles before the car is under way, beyond 2.5
	shows    []show  // what the driver shows before setting off
	gearbox  gearbox
	blinkFor int64   // half a period of the turn lamp; 0: 340 ms
	smart    float64 // V by which the alternator's voltage is moved up and down

	silentStop bool // neither stop nor starter command is on the bus
	network    network
}
