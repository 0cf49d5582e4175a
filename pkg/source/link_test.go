package source

import (
	"os"
	"testing"
)

// If the folder of a relative link is a link itself, `..` is the parent of the folder
// that it leads to, as for the system, not the parent of the link.
func TestARelativeLinkInALinkedFolderIsRelativeToTheRealFolder(t *testing.T) {
	tree(t, "disk/job/x", "disk/results/x", "results/x") // each file contains its name
	for name, target := range map[string]string{"job": "disk/job", "disk/job/out.csv": "../results/new.csv", "disk/job/drive.log": "../results/x"} {
		if err := os.Symlink(target, name); err != nil {
			t.Skipf("SKIPPED: links are not supported here: %v", err)
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
