package words_test

import (
	"strings"
	"testing"

	"lull/analyze/measure"
	"lull/cmd/lull/internal/words"
)

func TestEveryMetricIsExplainedInFull(t *testing.T) {
	for i := range measure.Metrics {
		m := &measure.Metrics[i]
		said := map[string]string{}
		for _, f := range words.MetricFacts(m) {
			said[f.Name] = f.Text
		}
		for _, name := range []string{"what it is", "unit", "window", "better", "needs", "bounds", "absent"} {
			if said[name] == "" {
				t.Errorf("%s: nothing is said of: %s", m.Key, name)
			}
		}
		for _, role := range m.Needs {
			if !strings.Contains(said["needs"], "role "+role.String()+" (") {
				t.Errorf("%s does not need %s: %s", m.Key, role, said["needs"])
			}
		}
		if moments := m.Ends != [2]measure.End{}; moments && m.Bounds != measure.OfMoments {
			t.Errorf("%s lies between two moments, and its bounds are of %s", m.Key, m.Bounds)
		}
		if strings.Contains(said["absent"], "; ;") || strings.HasSuffix(said["absent"], "; ") || strings.HasSuffix(said["absent"], ": ") {
			t.Errorf("%s: a reason has no words: %s", m.Key, said["absent"])
		}
	}
}
