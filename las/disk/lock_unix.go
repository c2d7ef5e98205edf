//go:build unix

package disk

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"

	"golang.org/x/sys/unix"
)

// hold locks a file as being made. It reports false when another process has it. Where the file system
// has no locks the file is held by nobody, and ifAbandoned does nothing with files there.
func hold(f *os.File) bool {
	return !errors.Is(flock(f), unix.EWOULDBLOCK)
}

func flock(f *os.File) error {
	c, err := f.SyscallConn()
	if err != nil {
		return err
	}
	var locked error
	if err := c.Control(func(fd uintptr) { locked = unix.Flock(int(fd), unix.LOCK_EX|unix.LOCK_NB) }); err != nil {
		return err
	}
	return locked
}

// holdFolder locks a folder as being made.
func holdFolder(name string) (*os.File, bool) {
	f, err := os.Open(name)
	if err != nil {
		return nil, false
	}
	if !hold(f) || !isStill(f, name) {
		f.Close()
		return nil, false
	}
	return f, true
}

// ifAbandoned does what do does when the process that made a file or folder is gone: its lock can be had. It is held
// meanwhile, so that nobody who has just made the file begins to write it.
func ifAbandoned(name string, do func()) {
	f, err := os.OpenFile(name, os.O_RDONLY|unix.O_NOFOLLOW|unix.O_NONBLOCK, 0)
	if err != nil {
		return
	}
	defer f.Close()
	if flock(f) == nil {
		do()
	}
}

// rename gives a file its name and then lets go of it: without its lock, under its temporary name, it would be swept as a dead run's.
func (f *File) rename() error {
	if err := os.Rename(f.Name(), f.Final); err != nil {
		return err
	}
	f.Close() // it is on the disk already
	return nil
}

// mounted reports whether a folder is the top of a file system.
func mounted(dir string) bool {
	a, errA := os.Lstat(dir)
	b, errB := os.Lstat(filepath.Dir(dir))
	if errA != nil || errB != nil {
		return false
	}
	x, okX := a.Sys().(*syscall.Stat_t)
	y, okY := b.Sys().(*syscall.Stat_t)
	return okX && okY && x.Dev != y.Dev
}
