package las

import (
	"bufio"
	"encoding/binary"
	"io"
	"runtime"
	"sync"

	"sidelap/las/internal/laz"
)

// lazSink compresses records chunk by chunk in workers and writes the chunks in order. At most
// two chunks for each worker are in memory.
type lazSink struct {
	out    io.WriterAt
	w      *bufio.Writer
	vlr    *laz.VLR
	record int
	size   int   // points in a chunk
	start  int64 // of the points: where the place of the table is written
	verify bool  // decode each chunk again and compare

	filling *lazJob
	free    chan *lazJob
	work    chan *lazJob
	queue   chan *lazJob // in order, to the goroutine that writes
	wg      sync.WaitGroup
	done    chan struct{} // closed when the writing goroutine has ended

	mu     sync.Mutex
	err    error
	table  []laz.Chunk
	offset int64
	closed bool
}

// lazJob is one chunk under way.
type lazJob struct {
	records []byte
	packed  []byte
	ready   chan error
}

// newLAZSink starts the workers. Chunks go to out, a file positioned at start.
func newLAZSink(out interface {
	io.Writer
	io.WriterAt
}, vlr *laz.VLR, record int, start int64, workers int, verify bool) (*lazSink, error) {
	if workers < 1 {
		workers = runtime.GOMAXPROCS(0)
	}
	s := &lazSink{
		out: out, w: bufio.NewWriterSize(out, 1<<18), vlr: vlr, record: record, size: int(vlr.ChunkSize),
		start: start, offset: start + 8, verify: verify, done: make(chan struct{}),
		free: make(chan *lazJob, 2*workers), work: make(chan *lazJob, 2*workers), queue: make(chan *lazJob, 2*workers),
	}
	var place [8]byte
	binary.LittleEndian.PutUint64(place[:], uint64(start)) // the mark of a writer that was interrupted
	if _, err := s.w.Write(place[:]); err != nil {
		return nil, err
	}
	for range 2 * workers {
		s.free <- &lazJob{ready: make(chan error, 1)}
	}
	for range workers {
		enc, err := laz.NewEncoder(vlr, record)
		if err != nil {
			return nil, s.giveUp(err)
		}
		var check lazState
		if verify {
			if err := check.prepare(vlr, record); err != nil {
				return nil, s.giveUp(err)
			}
		}
		s.wg.Go(func() {
			for j := range s.work {
				j.ready <- s.compress(enc, &check, j)
			}
		})
	}
	go s.writeChunks()
	return s, nil
}

// giveUp ends the workers that have been started and returns err.
func (s *lazSink) giveUp(err error) error {
	close(s.work)
	s.wg.Wait()
	return err
}

// compress encodes a chunk and, when asked to, proves that it gives the same records again.
func (s *lazSink) compress(enc *laz.Encoder, check *lazState, j *lazJob) (err error) {
	if j.packed, err = enc.Encode(j.packed[:0], j.records); err != nil || !s.verify {
		return err
	}
	check.src = j.packed
	if _, _, err := check.decode(int64(len(j.records)/s.record), s.record, laz.AllLayers); err != nil {
		return err
	}
	for i := 0; i < len(j.records); i += s.record {
		if a, b := j.records[i:i+s.record], check.dst[i:i+s.record]; string(a) != string(b) {
			return kindf(ErrUnsupported, "point %d of its chunk cannot be kept to the bit in LAZ: %x becomes %x", i/s.record+1, a, b)
		}
	}
	return nil
}

// writeChunks writes finished chunks in order.
func (s *lazSink) writeChunks() {
	defer close(s.done)
	for j := range s.queue {
		err := <-j.ready
		if err == nil && s.failed() == nil {
			_, err = s.w.Write(j.packed)
		}
		s.mu.Lock()
		if s.err == nil {
			s.err = err
		}
		s.table = append(s.table, laz.Chunk{Points: uint32(len(j.records) / s.record), Bytes: uint32(len(j.packed))})
		s.offset += int64(len(j.packed))
		s.mu.Unlock()
		j.records = j.records[:0]
		s.free <- j
	}
}

func (s *lazSink) failed() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.err
}

// write takes whole records.
func (s *lazSink) write(records []byte) error {
	for len(records) > 0 {
		if s.filling == nil {
			s.filling = <-s.free
			if err := s.failed(); err != nil {
				return err
			}
		}
		n := min(len(records), s.size*s.record-len(s.filling.records))
		s.filling.records = append(s.filling.records, records[:n]...)
		records = records[n:]
		if len(s.filling.records) == s.size*s.record {
			s.submit()
		}
	}
	return nil
}

// submit hands the chunk being filled to the workers.
func (s *lazSink) submit() {
	s.queue <- s.filling
	s.work <- s.filling
	s.filling = nil
}

// close finishes the chunks and writes the table and its place.
func (s *lazSink) close() error {
	if s.filling != nil && len(s.filling.records) > 0 {
		s.submit()
	}
	s.stop()
	if err := s.failed(); err != nil {
		return err
	}
	if _, err := s.w.Write(laz.AppendTable(nil, s.table, s.vlr.Variable())); err != nil {
		return err
	}
	if err := s.w.Flush(); err != nil {
		return err
	}
	var place [8]byte
	binary.LittleEndian.PutUint64(place[:], uint64(s.offset))
	_, err := s.out.WriteAt(place[:], s.start)
	return err
}

// stop ends the workers.
func (s *lazSink) stop() {
	if s.closed {
		return
	}
	s.closed = true
	close(s.work)
	close(s.queue)
	s.wg.Wait()
	<-s.done
}
