package serve

import "io/fs"

// own tells whether a file belongs to this user: each has a folder for temporary
// files to himself here.
func own(fs.FileInfo) bool { return true }
