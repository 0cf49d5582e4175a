package source

import "golang.org/x/sys/windows"

// Free returns how many bytes this user may still write to the disk of a folder.
func Free(folder string) (int64, error) {
	name, err := windows.UTF16PtrFromString(folder)
	if err != nil {
		return 0, plain(folder, err)
	}
	var free uint64
	if err := windows.GetDiskFreeSpaceEx(name, &free, nil, nil); err != nil {
		return 0, plain(folder, err)
	}
	return int64(min(free, 1<<63-1)), nil
}
