package source

import (
	"os"
	"testing"
)

// Where the folder of a relative link is a link itself, `..` is the folder above the
// one that it leads to, as the system has it, not the one above the link.
func TestARelativeLinkInALinkedFolderCountsFromWhereTheFolderLies(t *testing.T) {
	tree(t, "disk/job/x", "disk/results/x", "results/x") // each holds its name
	for name, target := range map[string]string{"job": "disk/job", "disk/job/out.csv": "../results/new.csv", "disk/job/drive.log": "../results/x"} {
		if err := os.Symlink(target, name); err != nil {
			t.Skipf("no links here: %v", err)
		}
	}
	if err := WriteFile("job/out.csv", says("new")); err != nil {
		t.Fatal(err)
	}
	if got := content(t, "disk/results/new.csv"); got != "new" {
		t.Errorf("the file holds %q", got)
	}
	if _, err := os.Lstat("results/new.csv"); err == nil {
		t.Error("a file was written beside the link to the folder")
	}
	inputs, err := Expand([]string{"job"})
	if err != nil || len(inputs) != 2 || content(t, inputs[0].Path) != "disk/results/x" {
		t.Errorf("the links in a linked folder: %+v, %v", inputs, err)
	}
}
