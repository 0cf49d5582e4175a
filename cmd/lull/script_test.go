package main

import (
	"bytes"
	"errors"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"lull/pkg/oracle"
)

var update = flag.Bool("update", false, "write the expected files in the scripts anew")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"lull": main})
}

// TestScripts runs the scripts in testdata, one a promise.
func TestScripts(t *testing.T) {
	schemas, err := filepath.Abs("internal/document/schema")
	if err != nil {
		t.Fatal(err)
	}
	dir, files := "testdata", []string(nil)
	if oracle.RaceDetector {
		dir = ""
		for _, name := range []string{"record_shows_a_played_drive", "packed_logs_are_read", "frames_finds_the_silent_modules", "reports_are_one_file"} {
			files = append(files, filepath.Join("testdata", name+".txtar"))
		}
	}
	testscript.Run(t, testscript.Params{
		Dir: dir, Files: files,
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(env *testscript.Env) error {
			env.Setenv("SCHEMAS", schemas)
			env.Setenv("COLUMNS", "80")
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"status": status,
			"valid":  validate,
		},
	})
}

// status runs a command and checks its exit status: status 3 lull episodes ...
func status(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status N command...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		var exit *exec.ExitError
		if !errors.As(err, &exit) {
			ts.Fatalf("%v", err)
		}
		got = exit.ExitCode()
	}
	if got != want {
		ts.Fatalf("status %d, want %d", got, want)
	}
}

// validate holds a JSON file against a schema: valid episodes FILE
func validate(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: valid episodes|standstills|frames|starter|compare FILE")
	}
	c := jsonschema.NewCompiler()
	for _, name := range []string{"episodes", "standstills", "frames", "starter", "compare", "draft"} {
		data, err := os.ReadFile(filepath.Join(ts.Getenv("SCHEMAS"), name+".schema.json"))
		ts.Check(err)
		schema, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
		ts.Check(err)
		ts.Check(c.AddResource("urn:lull:"+name, schema))
	}
	schema, err := c.Compile("urn:lull:" + args[0])
	ts.Check(err)
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader([]byte(ts.ReadFile(args[1]))))
	ts.Check(err)
	err = schema.Validate(doc)
	if neg && err == nil {
		ts.Fatalf("%s keeps the schema", args[1])
	}
	if !neg {
		ts.Check(err)
	}
}
