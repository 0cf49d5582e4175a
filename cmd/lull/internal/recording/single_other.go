//go:build !linux && !darwin && !windows

package recording

import "errors"

// SingleKeys is not possible here.
func SingleKeys(int) (restore func(), err error) {
	return nil, errors.New("not possible on this system")
}
