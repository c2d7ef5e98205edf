package adjust

import "context"

// ended unwinds a computation whose context is done; untilDone turns it into an error.
type ended struct{ err error }

// goOn is asked by every long loop: it ends the computation when its context is done. It is called by the
// goroutine that computes, never by those that it starts. A nil context is never done.
func goOn(ctx context.Context) {
	if ctx == nil {
		return
	}
	if err := ctx.Err(); err != nil {
		panic(ended{err})
	}
}

// untilDone is deferred where a computation starts: it returns what goOn ended it with.
func untilDone(err *error) {
	switch r := recover().(type) {
	case nil:
	case ended:
		*err = r.err
	default:
		panic(r)
	}
}
