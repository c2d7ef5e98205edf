package report

import (
	"bytes"
	"errors"
	"fmt"
	"net/http"
	"path/filepath"
	"sidelap/las/disk"
	"strings"

	"github.com/BurntSushi/toml"
)

// projectFile is the settings file of a firm and job.
type projectFile struct {
	Project   Project       `toml:"project"`
	Reference referenceFile `toml:"reference"`
	Logo      string        `toml:"logo"`
}

// referenceFile is what only people know about datum, base and check points.
type referenceFile struct {
	VerticalDatum       Text     `toml:"vertical_datum"`
	Geoid               Text     `toml:"geoid"`
	Epoch               Text     `toml:"epoch"`
	BaseMark            Text     `toml:"base_mark"`
	BaseMarkSource      Text     `toml:"base_mark_source"`
	AntennaHeightM      *float64 `toml:"antenna_height_m"`
	AntennaHeightMethod Text     `toml:"antenna_height_method"`
	CheckpointSource    Text     `toml:"checkpoint_source"`
	Independent         *bool    `toml:"checkpoint_independent"`
}

// maxLogoBytes keeps a photograph from being taken for a logo.
const maxLogoBytes = 2 << 20

// Letterhead is what a settings file says: project, reference and the logo.
type Letterhead struct {
	Project   Project
	Reference Reference
	Logo      []byte
	LogoType  string
}

// maxLetterheadBytes bounds the TOML file of a letterhead.
const maxLetterheadBytes = 1 << 20

// ReadLetterhead reads the TOML file with project, client, site and firm, what
// is known about datum and base, and the path of a logo (PNG or JPEG, relative
// to the file). Unknown keys are an error.
func ReadLetterhead(path string) (*Letterhead, error) {
	b, err := disk.Read(path, maxLetterheadBytes)
	if err != nil {
		return nil, err
	}
	h, logo, err := parseLetterhead(path, b)
	if err != nil || logo == "" {
		return h, err
	}
	if !filepath.IsAbs(logo) {
		logo = filepath.Join(filepath.Dir(path), logo)
	}
	if h.Logo, err = disk.Read(logo, maxLogoBytes); err != nil {
		return nil, fmt.Errorf("%s: logo: %w", path, err)
	}
	if h.LogoType = http.DetectContentType(h.Logo); h.LogoType != "image/png" && h.LogoType != "image/jpeg" {
		return nil, fmt.Errorf("%s: logo %s: neither PNG nor JPEG; convert it", path, logo)
	}
	return h, nil
}

// parseLetterhead reads the bytes of the file at path and returns the path of the logo as it stands there.
func parseLetterhead(path string, b []byte) (h *Letterhead, logo string, err error) {
	var f projectFile
	md, err := toml.NewDecoder(bytes.NewReader(b)).Decode(&f)
	var pe toml.ParseError
	switch {
	case errors.As(err, &pe):
		return nil, "", fmt.Errorf("%s: line %d: %s", path, pe.Position.Line, pe.Message)
	case err != nil:
		if s := letterheadMistake(b); s != "" {
			return nil, "", fmt.Errorf("%s: %s; sidelap report --print-letterhead prints a whole file to edit", path, s)
		}
		return nil, "", fmt.Errorf("%s: %s", path, strings.TrimPrefix(err.Error(), "toml: "))
	}
	if un := md.Undecoded(); len(un) > 0 {
		return nil, "", fmt.Errorf("%s: unknown key %q; known are logo, and under [project] name, number, client, site, firm, address, flight_date, sensor, aircraft, conditions, notes, "+
			"under [reference] vertical_datum, geoid, epoch, base_mark, base_mark_source, antenna_height_m, antenna_height_method, checkpoint_source, checkpoint_independent", path, un[0].String())
	}
	r := f.Reference
	h = &Letterhead{Project: f.Project, Reference: Reference{VerticalDatum: r.VerticalDatum, Geoid: r.Geoid, Epoch: r.Epoch, BaseMark: r.BaseMark, BaseMarkSource: r.BaseMarkSource,
		AntennaHeightM: r.AntennaHeightM, AntennaHeightMethod: r.AntennaHeightMethod, CheckpointSource: r.CheckpointSource, CheckpointIndependent: r.Independent}}
	return h, f.Logo, nil
}

// Apply puts the letterhead into a record and its layers. What the files
// themselves say about datum and geoid stays where the letterhead is silent.
func (h *Letterhead) Apply(rec *Record, l *Layers) {
	p := h.Project
	rec.Project = &p
	to, from := &rec.Reference, &h.Reference
	for _, x := range []struct{ to, from *Text }{{&to.VerticalDatum, &from.VerticalDatum}, {&to.Geoid, &from.Geoid}, {&to.Epoch, &from.Epoch}, {&to.BaseMark, &from.BaseMark},
		{&to.BaseMarkSource, &from.BaseMarkSource}, {&to.AntennaHeightMethod, &from.AntennaHeightMethod}, {&to.CheckpointSource, &from.CheckpointSource}} {
		if *x.from != "" {
			*x.to = *x.from
		}
	}
	if from.AntennaHeightM != nil {
		to.AntennaHeightM = from.AntennaHeightM
	}
	if from.CheckpointIndependent != nil {
		to.CheckpointIndependent = from.CheckpointIndependent
	}
	if len(h.Logo) > 0 {
		l.Logo, l.LogoType = h.Logo, h.LogoType
	}
}
