package onelog_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

const cold = `
inhibits:
  - {name: cold, when: {signal: coolant, below: 40}}
  - {name: cabin, when: {signal: ac, is: on}}
`

// Standstills: which are opportunities, which were used, and what stood in the
// way of the others. The speed falls from 10 km/h at 1 s to 0 at 2 s: it crosses
// 0.5 km/h at 1.95 s.
func TestStandstills(t *testing.T) {
	for _, test := range []struct{ name, drive, more, want, findings string }{
		{
			name: "stopped",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 20.1s=0 20.4s=900
				stop:    0s=0 9.955s=1 20.005s=0
				starter: 0s=0 20.095s=1 20.3s=0
				speed:   0s=10 1s=10 2s=0 21s=0 22s=10
				coolant: 0s=80
				ac:      0s=off 3.955s=on 5.955s=off`,
			more: cold,
			want: `1.950..21.050 opportunity stopped by 1 after 8.005; cold false 0.000; cabin mixed 0.250 3.955..5.955; covered 0.250`,
		},
		{
			name: "shorter than min_standstill is no opportunity",
			drive: `
				rpm:     0s=800
				speed:   0s=10 1s=10 2s=0 4.8s=0 5.8s=10`,
			want: `1.950..4.850; covered 0.000`,
		},
		{
			name: "as long as min_standstill is one, and unexplained",
			drive: `
				rpm:     0s=800
				speed:   0s=10 1s=10 2s=0 4.9s=0 5.9s=10`,
			want:     `1.950..4.950 opportunity unexplained; covered 0.000`,
			findings: `attention unexplained_standstill [standstill 1]: UnexplainedStandstill {Start:1.950 Length:3.000 NoInhibits:true}`,
		},
		{
			name: "an inhibit whose signal stayed away is not true before it is seen again",
			drive: `
				rpm:     0s=800
				speed:   0s=10 1s=10 2s=0 11.9s=0 12.9s=10
				coolant: 0s=80
				ac:      0s=off 1s=- 10.955s=on`,
			more:     cold,
			want:     `1.950..11.950 opportunity; cold false 0.000; cabin mixed 0.099 10.960..11.950; covered 0.099; cannot tell cabin`,
			findings: `note cannot_tell [standstill 1]: DoubtedInhibits {Start:1.950 Conditions:[cabin] Why:{Signals:[ac]}}`,
		},
		{
			name: "a long gap of the recording ends it: the vehicle may have been elsewhere",
			drive: `
				rpm:     0s=800
				speed:   0s=10 1s=10 2s=0 30s=0 31s=10
				coolant: 0s=0
				ac:      0s=off
				cut:     10s..20s`,
			more: cold,
			want: `
				1.950..10.000 open opportunity; cold true 1.000 1.950..10.000; cabin false 0.000; covered 1.000; reason cold
				20.000..30.050 opportunity; cold true 1.000 20.000..30.050; cabin false 0.000; covered 1.000; reason cold`,
			findings: `note gap []: Gap {Start:10.000 End:20.000}`,
		},
		{
			name: "a short gap does not",
			drive: `
				rpm:     0s=800
				speed:   0s=10 1s=10 2s=0 30s=0 31s=10
				coolant: 0s=0
				ac:      0s=off
				cut:     10s..12s`,
			more:     cold,
			want:     `1.950..30.050 opportunity; cold true 1.000 1.950..30.050; cabin false 0.000; covered 1.000; reason cold`,
			findings: `note gap []: Gap {Start:10.000 End:12.000}`,
		},
		{
			name: "a stop while still rolling has a negative delay",
			drive: `
				rpm:     0s=800 1s=800 1.8s=0 20.1s=0 20.4s=900
				stop:    0s=0 0.955s=1 20.005s=0
				starter: 0s=0 20.095s=1 20.3s=0
				speed:   0s=10 1s=10 2s=0 21s=0 22s=10
				coolant: 0s=80
				ac:      0s=on`,
			more: cold,
			want: `1.950..21.050 opportunity stopped by 1 after -0.995; cold false 0.000; cabin true 0.000; covered 0.000`,
		},
		{
			name: "several stops in one standstill: the first counts",
			drive: `
				rpm:     0s=800 5s=800 5.8s=0 10.1s=0 10.4s=900 15s=900 15.9s=0 20.1s=0 20.4s=900
				stop:    0s=0 4.955s=1 10.005s=0 14.955s=1 20.005s=0
				starter: 0s=0 10.095s=1 10.3s=0 20.095s=1 20.3s=0
				speed:   0s=10 1s=10 2s=0 21s=0 22s=10`,
			want: `1.950..21.050 opportunity stopped by 1 after 3.005; covered 0.000`,
		},
		{
			name: "a stop that was called off does not count, but nor is anything unexplained",
			drive: `
				rpm:     0s=800
				stop:    0s=0 4.955s=1 5.105s=0
				speed:   0s=10 1s=10 2s=0 21s=0 22s=10
				coolant: 0s=80
				ac:      0s=off`,
			more: cold,
			want: `1.950..21.050 opportunity; cold false 0.000; cabin false 0.000; covered 0.000`,
		},
		{
			name: "called off first, stopped later",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0
				stop:    0s=0 4.955s=1 5.105s=0 9.955s=1
				speed:   0s=10 1s=10 2s=0`,
			want: `1.950..13.800 open opportunity stopped by 2 after 8.005; covered 0.000`,
		},
		{
			name: "a stall is no stop: the stoppable time ends with it",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0 12.1s=0 12.4s=900
				stop:    0s=0
				starter: 0s=0 12.095s=1 12.3s=0
				speed:   0s=10 1s=10 2s=0
				coolant: 0s=20 6.1s=20 6.11s=60
				ac:      0s=off`,
			more:     cold,
			want:     `1.950..15.400 open opportunity; cold mixed 0.498 1.950..6.105; cabin false 0.000; covered 0.498`,
			findings: `attention stalled [episode 1]: FailedStart {Tries:1}`,
		},
		{
			name: "covered by just one half: a reason",
			drive: `
				rpm:     0s=800
				speed:   0s=10 1s=10 2s=0 11.9s=0 12.9s=10
				ac:      0s=on 6.955s=off
				coolant: 0s=80`,
			more: cold,
			want: `1.950..11.950 opportunity; cold false 0.000; cabin mixed 0.500 1.950..6.955; covered 0.500; reason cabin`,
		},
		{
			name: "two that cover one half together",
			drive: `
				rpm:     0s=800
				speed:   0s=10 1s=10 2s=0 11.9s=0 12.9s=10
				ac:      0s=on 4.455s=off
				coolant: 0s=80 9.45s=80 9.45s=0`,
			more: cold,
			want: `1.950..11.950 opportunity; cold mixed 0.251 9.445..11.950; cabin mixed 0.251 1.950..4.455; covered 0.501; reason cold`,
		},
		{
			name: "a tie goes to the first of the map",
			drive: `
				rpm:     0s=800
				speed:   0s=10 1s=10 2s=0 11.9s=0 12.9s=10
				ac:      0s=on
				coolant: 0s=0
				code:    0s=4`,
			more: cold,
			want: `1.950..11.950 opportunity; cold true 1.000 1.950..11.950; cabin true 1.000 1.950..11.950; code "battery weak" 1.000 1.950..11.950; covered 1.000; reason cold`,
		},
		{
			name: "the car's own code: label, number, and clear",
			drive: `
				rpm:     0s=800
				speed:   0s=10 1s=10 2s=0 11.9s=0 12.9s=10
				code:    0s=0 3.955s=4 5.955s=9 10.955s=0`,
			want: `1.950..11.950 opportunity; code "code 9" 0.500 5.955..10.955; code "battery weak" 0.200 3.955..5.955; covered 0.700; reason code 9`,
		},
		{
			name: "a code that stays away tells nothing after stale_after",
			drive: `
				rpm:     0s=800
				speed:   0s=10 1s=10 2s=0 11.9s=0 12.9s=10
				code:    0s=4 3s=-`,
			want:     `1.950..11.950 opportunity; code "battery weak" 0.304 1.950..4.990; covered 0.304; cannot tell code`,
			findings: `note cannot_tell [standstill 1]: DoubtedInhibits {Start:1.950 Conditions:[code]}`,
		},
		{
			name: "a code that stays away for a while",
			drive: `
				rpm:     0s=800
				speed:   0s=10 1s=10 2s=0 11.9s=0 12.9s=10
				code:    0s=4 3s=- 7s=5 8s=5`,
			want: `1.950..11.950 opportunity; code "vacuum weak" 0.495 7.000..11.950; code "battery weak" 0.304 1.950..4.990; covered 0.799; reason vacuum weak`,
		},
		{
			name: "what cannot be told could explain it",
			drive: `
				rpm:     0s=800
				speed:   0s=10 1s=10 2s=0 11.9s=0 12.9s=10
				coolant: 0s=80
				ac:`,
			more:     cold,
			want:     `1.950..11.950 opportunity; cold false 0.000; cabin unknown 0.000; covered 0.000; cannot tell cabin`,
			findings: `note cannot_tell [standstill 1]: DoubtedInhibits {Start:1.950 Conditions:[cabin] Why:{Signals:[ac] Never:true}}`,
		},
		{
			name: "what cannot be told for a short time could not",
			drive: `
				rpm:     0s=800
				speed:   0s=10 1s=10 2s=0 11.9s=0 12.9s=10
				coolant: 0s=80
				ac:      4s=off`,
			more:     cold,
			want:     `1.950..11.950 opportunity unexplained; cold false 0.000; cabin unknown 0.000; covered 0.000`,
			findings: `attention unexplained_standstill [standstill 1]: UnexplainedStandstill {Start:1.950 Length:10.000 Measured:[{Condition:cold Against:below 40 Signal:coolant Unit:degC Value:{Value:80 Seen:true}}, {Condition:cabin Against:is on Signal:ac Value:{Seen:true} Label:off}]}`,
		},
		{
			name: "a late stop has a reason too",
			drive: `
				rpm:     0s=800 10s=800 10.8s=0
				stop:    0s=0 9.955s=1
				speed:   0s=10 1s=10 2s=0
				coolant: 0s=80
				ac:      0s=on 8.955s=off`,
			more: cold,
			want: `1.950..13.800 open opportunity stopped by 1 after 8.005; cold false 0.000; cabin mixed 0.875 1.950..8.955; covered 0.875; reason cabin`,
		},
		{
			name: "the log begins in a standstill with the engine running",
			drive: `
				rpm:     0s=800
				speed:   0s=0 5s=0 6s=10
				coolant: 0s=0
				ac:      0s=off`,
			more: cold,
			want: `0.000..5.050 opportunity; cold true 1.000 0.000..5.050; cabin false 0.000; covered 1.000; reason cold`,
		},
		{
			name: "the log begins in a standstill with the engine at rest",
			drive: `
				rpm:     0s=0 2.1s=0 2.4s=900
				starter: 0s=0 2.095s=1 2.3s=0
				speed:   0s=0 5s=0 6s=10`,
			want: `0.000..5.050; covered 0.000`,
		},
		{
			name: "the driver switches off before the car could have stopped",
			drive: `
				rpm:     0s=800 4s=800 4.8s=0
				key:     0s=1 3.955s=0
				stop:    0s=0
				speed:   0s=10 1s=10 2s=0
				end:     12s`,
			want: `1.950..12.000 open; covered 0.000`,
		},
		{
			name: "the driver switches off later",
			drive: `
				rpm:     0s=800 8s=800 8.8s=0
				key:     0s=1 7.955s=0
				stop:    0s=0
				coolant: 0s=0 7s=0 7.1s=80
				ac:      0s=off
				speed:   0s=10 1s=10 2s=0
				end:     12s`,
			more: cold,
			want: `1.950..12.000 open opportunity; cold mixed 0.849 1.950..7.050; cabin false 0.000; covered 0.849; reason cold`,
		},
		{
			name: "... as the ignition's slow frame tells only after the vehicle was pushed away",
			drive: `
				rpm:      0s=800 8s=800 8.8s=0
				key @1s:  0s=1 8.4s=0
				stop:     0s=0
				speed:    0s=10 1s=10 2s=0 8.85s=0 8.95s=5 15s=5 15.5s=0 20s=0`,
			want: `1.950..8.860 opportunity unexplained; covered 0.000
				15.450..23.000 open; covered 0.000`,
			findings: `attention unexplained_standstill [standstill 1]: UnexplainedStandstill {Start:1.950 Length:6.350 KeyOff:true NoInhibits:true}`,
		},
		{
			name: "the vehicle rolls away before the engine is seen to rest",
			drive: `
				rpm:      0s=800 8s=800 8.8s=0
				speed:    0s=10 1s=10 2s=0 8.5s=0 8.55s=5 30s=5
				coolant:  0s=0 8s=80
				ac:       0s=off`,
			more: cold,
			want: `1.950..8.505 opportunity stopped by 1 after 6.350; cold mixed 0.315 1.950..3.950; cabin false 0.000; covered 0.315`,
		},
		{
			name: "a gap in truth that is bridged across the standstill's end",
			drive: `
				rpm:     0s=800
				speed:   0s=10 1s=10 2s=0 7.9s=0 8.9s=10
				ac:      0s=on 5.455s=off 8.405s=on
				coolant: 0s=80`,
			more: `
inhibits:
  - {name: cabin, bridge: 3s, when: {signal: ac, is: on}}
  - {name: cold, when: {signal: coolant, below: 40}}
`,
			want: `1.950..7.950 opportunity; cabin true 1.000 1.950..7.950; cold false 0.000; covered 1.000; reason cabin`,
		},
		{
			name: "moves counts from the standstill's start",
			drive: `
				rpm:     0s=800
				speed:   0s=10 1s=10 2s=0 11.9s=0 12.9s=10
				steer:   0s=0 1s=100 4s=100 4.3s=130`,
			more: `
inhibits:
  - {name: wheel, when: {signal: steer, moves: 15}}
`,
			want: `1.950..11.950 opportunity; wheel mixed 0.780 4.150..11.950; covered 0.780; reason wheel`,
		},
		{
			name: "time runs back: what stands is cut there",
			drive: `
				rpm:     0s=800
				speed:   0s=10 1s=10 2s=0 11.9s=0 12.9s=10
				ac:      0s=on
				coolant: 0s=80
				back:    8s by 4s`,
			more: cold,
			want: `1.950..7.990 open opportunity; cold false 0.000; cabin true 1.000 1.950..7.990; covered 1.000; reason cabin
				4.000..7.950 opportunity; cold false 0.000; cabin true 1.000 4.000..7.950; covered 1.000; reason cabin`,
		},
	} {
		t.Run(test.name, func(t *testing.T) {
			d := parseDrive(t, test.drive, test.more)
			res := d.run()
			if diff := cmp.Diff(rows(test.want), tellStandstills(d.m, res)); diff != "" {
				t.Errorf("standstills (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(rows(test.findings), tellFindings(res)); diff != "" {
				t.Errorf("findings (-want +got):\n%s", diff)
			}
		})
	}
}
