//go:build !linux

package source

import (
	"errors"
	"os"
)

func createUnnamed(string) (*os.File, error) { return nil, errors.ErrUnsupported }

func nameUnnamed(*os.File, string) error { return errors.ErrUnsupported }
