package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"sidelap/las/disk"
)

// moment tells whether a process has come to where it shall be struck.
type moment func(pid int) bool

// holds waits until the process has a file open whose name ends so.
func holds(ending string) moment {
	return func(pid int) bool {
		dir := filepath.Join("/proc", strconv.Itoa(pid), "fd")
		entries, _ := os.ReadDir(dir)
		for _, e := range entries {
			if to, _ := os.Readlink(filepath.Join(dir, e.Name())); strings.HasSuffix(to, ending) {
				return true
			}
		}
		return false
	}
}

// writes waits until an output is being made in the folder "out" or in one in it. The empty folder that only tries
// whether one can be made is none.
func (b *bench) writes() moment {
	return func(int) bool {
		for _, pattern := range []string{".*", "*/.*"} {
			found, _ := filepath.Glob(filepath.Join(b.dir, "out", pattern))
			if slices.ContainsFunc(found, func(path string) bool { return disk.IsTemporary(filepath.Base(path)) }) {
				return true
			}
		}
		return false
	}
}

// early is true of a process that has begun to read and has read less than that many bytes (proc(5): rchar).
func early(limit int64) moment {
	return func(pid int) bool {
		counts, _ := os.ReadFile(filepath.Join("/proc", strconv.Itoa(pid), "io"))
		var read int64
		_, err := fmt.Sscanf(string(counts), "rchar: %d", &read)
		return err == nil && read > 1<<20 && read < limit // points are being read: what changes before is read as it is then
	}
}

// both is true when two moments are.
func both(a, b moment) moment { return func(pid int) bool { return a(pid) && b(pid) } }

// stop stops a process and waits until every thread of it stands. It reports false when the process ends instead.
func stop(p *os.Process) bool {
	p.Signal(syscall.SIGSTOP)
	for limit := time.Now().Add(10 * time.Second); time.Now().Before(limit); time.Sleep(50 * time.Microsecond) {
		threads, _ := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/stat", p.Pid))
		standing := 0
		for _, t := range threads {
			stat, _ := os.ReadFile(t)
			_, state, _ := strings.Cut(string(stat), ") ")
			if strings.HasPrefix(state, "Z") || strings.HasPrefix(state, "X") {
				return false
			}
			if strings.HasPrefix(state, "T") {
				standing++
			}
		}
		if standing == len(threads) {
			return standing > 0
		}
	}
	return false
}

// strike runs a command, stops it when the moment has come, does what act does, lets it go on and
// waits for its end. It reports false when the process ended before.
func (b *bench) strike(c *exec.Cmd, when moment, act func(*os.Process)) (ended, bool) {
	b.t.Helper()
	var out, errs bytes.Buffer
	c.Stdout, c.Stderr = &out, &errs
	if err := c.Start(); err != nil {
		b.t.Fatal(err)
	}
	over := make(chan error, 1)
	go func() { over <- c.Wait() }()
	struck := false
	for limit := time.Now().Add(time.Minute); ; time.Sleep(100 * time.Microsecond) {
		select {
		case <-over:
			return ended{c.ProcessState.ExitCode(), out.String(), errs.String()}, struck
		default:
		}
		if time.Now().After(limit) {
			c.Process.Kill()
			b.t.Fatalf("%q: no end after a minute: %s", c.Args, errs.String())
		}
		if struck || !when(c.Process.Pid) {
			continue
		}
		if stop(c.Process) && when(c.Process.Pid) { // still there
			act(c.Process)
			struck = true
		}
		c.Process.Signal(syscall.SIGCONT)
	}
}

// caught strikes until the process is caught at the moment.
func (b *bench) caught(t *testing.T, args []string, when moment, act func(*os.Process)) ended {
	t.Helper()
	for range 20 {
		r, struck := b.strike(b.command(args...), when, act)
		if struck {
			return r
		}
		b.empty()
	}
	t.Fatalf("%q was never caught", args)
	return ended{}
}

func send(s os.Signal) func(*os.Process) { return func(p *os.Process) { p.Signal(s) } }

// Ctrl-C, a termination signal and kill -9 while reading and while writing: no output under a final name, exit 130,
// inputs as they were, nothing hidden left unless killed; and the run after it gives what an undisturbed run gives.
func TestFaultSignals(t *testing.T) {
	if testing.Short() {
		t.Skip("some thirty runs of the program")
	}
	b := newBench(t)
	b.bigCloud("big.las", 3_000_000)
	if r := b.run(assessArgs()...); r.code != exitWithin && r.code != exitExceeded {
		t.Fatal(r)
	}
	want := b.record("results/results.json")
	if err := os.Rename(filepath.Join(b.dir, "out", "results"), filepath.Join(b.dir, "in", "results")); err != nil {
		t.Fatal(err)
	}
	b.before = b.inputs()
	b.empty()
	big := []string{"assess", "../in/big.las"}
	lists := []string{"checkpoints", "--checkpoints", "../in/checkpoints.csv", "../in/big.las"}
	repack := []string{"repack", "../in/big.las", "big.laz"}
	report := []string{"report", "--out", "again", "../in/results"}
	correct := []string{"correct", "--force", "--trajectory", "../in/trajectory/flight.sbet", "--out", "corrected", "../in/cloud"}
	for _, c := range []struct {
		name string
		args []string
		when moment
		sig  syscall.Signal
	}{
		{"assess reading", big, holds("big.las"), syscall.SIGINT},
		{"assess reading, terminated", big, holds("big.las"), syscall.SIGTERM},
		{"assess reading, hung up", big, holds("big.las"), syscall.SIGHUP},
		{"assess reading, killed", big, holds("big.las"), syscall.SIGKILL},
		{"assess writing", assessArgs(), b.writes(), syscall.SIGINT},
		{"assess writing, killed", assessArgs(), b.writes(), syscall.SIGKILL},
		{"strips reading", []string{"strips", "../in/big.las"}, holds("big.las"), syscall.SIGINT},
		{"checkpoints reading", lists, holds("big.las"), syscall.SIGINT},
		{"repack writing", repack, b.writes(), syscall.SIGINT},
		{"repack writing, terminated", repack, b.writes(), syscall.SIGTERM},
		{"repack writing, killed", repack, b.writes(), syscall.SIGKILL},
		{"demo flying", []string{"demo", "demo"}, b.writes(), syscall.SIGINT},
		{"demo flying, hung up", []string{"demo", "demo"}, b.writes(), syscall.SIGHUP},
		{"demo flying, killed", []string{"demo", "demo"}, b.writes(), syscall.SIGKILL},
		{"field reading", []string{"field", "--out", "field", "../in/big.las"}, holds("big.las"), syscall.SIGINT},
		{"field reading, killed", []string{"field", "--out", "field", "../in/big.las"}, holds("big.las"), syscall.SIGKILL},
		{"report writing", report, b.writes(), syscall.SIGINT},
		{"report writing, killed", report, b.writes(), syscall.SIGKILL},
		{"correct reading", []string{"correct", "--out", "corrected", "../in/big.las"}, holds("big.las"), syscall.SIGINT},
		{"correct writing", correct, b.writes(), syscall.SIGINT},
		{"correct writing, terminated", correct, b.writes(), syscall.SIGTERM},
		{"correct writing, killed", correct, b.writes(), syscall.SIGKILL},
	} {
		t.Run(c.name, func(t *testing.T) {
			defer b.empty()
			r := b.caught(t, c.args, c.when, send(c.sig))
			b.untouched(t)
			left := b.list("out")
			if !hidden(left) {
				t.Errorf("under a final name: %q", left)
			}
			if c.sig == syscall.SIGKILL {
				if r.code != -1 {
					t.Errorf("exit %d after a kill", r.code)
				}
				return
			}
			if r.code != exitInterrupted || r.stderr != "sidelap: interrupted; nothing was written under a final name\n" && c.args[0] != "demo" || r.stdout != "" {
				t.Errorf("exit %d, stdout %q, stderr %q", r.code, r.stdout, r.stderr)
			}
			if len(left) > 0 {
				t.Errorf("left behind: %q", left)
			}
		})
	}
	for _, c := range []struct {
		name string
		args []string
		file string // of the results, that a run without a kill makes alike; none: only whether there are any
	}{
		{"assess", assessArgs(), "results/results.json"},
		{"repack", repack, "big.laz"},
		{"demo", []string{"demo", "demo"}, ""},
	} {
		t.Run(c.name+" behind a kill", func(t *testing.T) { // with what the killed one left
			defer b.empty()
			if r := b.caught(t, c.args, b.writes(), send(syscall.SIGKILL)); r.code != -1 || len(b.list("out")) == 0 {
				t.Fatalf("exit %d, and nothing is left to be swept", r.code)
			}
			r := b.run(c.args...)
			if r.code != exitWithin && r.code != exitExceeded {
				t.Errorf("exit %d, %s", r.code, r.stderr)
			}
			for _, n := range b.list("out") {
				if hidden([]string{n}) {
					t.Errorf("not swept: %s", n)
				}
			}
			if c.file == "results/results.json" && b.record(c.file) != want {
				t.Error("other results than without the kill")
			}
			b.untouched(t)
		})
	}
	t.Run("demo assessing", func(t *testing.T) {
		defer b.empty()
		r := b.caught(t, []string{"demo", "demo"}, b.there("demo/TRUTH.txt"), send(syscall.SIGINT))
		if r.code != exitInterrupted || !strings.Contains(r.stderr, "the survey is in demo, its results are not") {
			t.Errorf("exit %d, %s", r.code, r.stderr)
		}
	})
	t.Run("hung up, which nohup ignores", func(t *testing.T) {
		defer b.empty()
		cmd := exec.Command("sh", append([]string{"-c", `trap "" HUP; exec "$@"`, "sh", b.program}, repack...)...)
		cmd.Dir = filepath.Join(b.dir, "out")
		if r, struck := b.strike(cmd, b.writes(), send(syscall.SIGHUP)); !struck || r.code != exitWithin {
			t.Errorf("struck %t, exit %d, %s", struck, r.code, r.stderr)
		}
	})
}

// there waits until a file of the folder "out" has its name.
func (b *bench) there(name string) moment {
	return func(int) bool {
		_, err := os.Stat(filepath.Join(b.dir, "out", filepath.FromSlash(name)))
		return err == nil
	}
}
