//go:build !linux

package laz

import "time"

// threadNs is the time in nanoseconds; on Linux it is the thread's processor time.
func threadNs() int64 { return time.Now().UnixNano() }
