package limits

// Only returns the set with the limits of one group (Relative, Absolute, Coverage): what a run that measures nothing
// else can be judged by. The rules of the standard stay.
func (s *Set) Only(group string) *Set {
	out := *s
	out.Limits = nil
	for _, l := range s.Limits {
		if m := measureOf(l.ID); m != nil && m.group == group {
			out.Limits = append(out.Limits, l)
		}
	}
	return &out
}
