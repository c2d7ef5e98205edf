package control

import "strings"

// role is what a column of a list holds.
type role int

const (
	roleNone role = iota
	roleE
	roleN
	roleZ
	roleLat
	roleLon
	roleName
	roleCode
	roleType
	roleCover
	roleSurface
	roleUse
	roleSDH
	roleSDE
	roleSDN
	roleSDV
	roleSource
	roleDate
	roleRod
	roleCount
)

// vocabulary holds the heading words of each role, folded by foldHeading: lower case, no accents,
// letters and digits only. English, German, French, Spanish, Portuguese, Italian, Dutch, Scandinavian,
// Finnish and Polish words as met on survey lists; earlier words win where two columns have one role.
var vocabulary = map[role]string{
	roleE: "e easting eastings east eastcoord ecoord coorde utme utmeasting utmx gride rechtswert rechts rw ostwert ostkoordinate ost est coordest este oost ostlig wschod itakoordinaatti " +
		"x xcoord xcoordinate coordx xutm gridx geox mapx xkoordinate pointx",
	roleN: "n northing northings north northcoord ncoord coordn utmn utmnorthing utmy gridn hochwert hoch hw nordwert nordkoordinate nord coordnord norte noord nordlig polnoc pohjoiskoordinaatti " +
		"y ycoord ycoordinate coordy yutm gridy geoy mapy ykoordinate pointy",
	roleZ:       "z h height elev elevation elevations orthoheight orthometricheight ortho orthometric hohe hoehe hohenwert nhn cota quota altitude alt altitud elevacion elevacao altura hauteur hoogte hojd hoyde kote rl reducedlevel wysokosc korkeus zcoord coordz geoz ellipsoidalheight ellipsoidheight ellheight ellh hae pointz",
	roleLat:     "lat latitude latdeg latitud latitudine breite breitengrad geobreite phi",
	roleLon:     "lon long longitude lng londeg longdeg longitud longitudine lange laenge langengrad laengengrad geolange lambda",
	roleName:    "name pointname ptname pointid ptid pointno pointnumber ptno pt pnt point id ident identifier label punkt punktnummer punktnr pktnr pkt punto ponto nome nombre nom matricule numero station stationname mark target targetid gcp gcpname gcpid checkpoint checkpointid cp cpid pno no nr num number nummer objectid fid index",
	roleCode:    "code codes featurecode feature desc description descr remark remarks note notes comment comments bemerkung codigo descripcion descricao libelle omschrijving attribut layer group",
	roleType:    "type pointtype",
	roleCover:   "cover landcover covertype coverclass landcoverclass vegetation nvavva bodenbedeckung couvert",
	roleSurface: "surface surfacetype ground groundtype oberflache oberflaeche untergrund belag superficie sol material",
	roleUse:     "use usage pointuse role purpose verwendung utilisation uso",
	roleSDH:     "sdh sdhz sdhoriz hsd hrms horizontalrms lateralrms rmsh hacc horizontalaccuracy hprecision horizontalprecision horzprecision hrmse sigmahz cq2d",
	roleSDE:     "sde sdeast eastingrms eastrms sigmae sdx sigmax stde stdeast",
	roleSDN:     "sdn sdnorth northingrms northrms sigman sdy sigmay stdn stdnorth",
	roleSDV:     "sdv sdvert sdz sdheight vsd vrms verticalrms rmsv vacc verticalaccuracy vprecision verticalprecision vertprecision vrmse sigmav sigmaz sigmah elevationrms heightrms stdz stdheight cq1d",
	roleSource:  "source surveysource method surveymethod origin quelle methode metodo origen fonte",
	roleDate:    "date surveydate datesurveyed day datum fecha data datetime timestamp",
	roleRod:     "rod rodheight rodm pole poleheight antennaheight lattenhohe stabhohe stabhoehe targetheight canne hr",
}

// words maps a folded heading to its role and to its rank among the words of the role.
var words = func() map[string][2]int {
	m := map[string][2]int{}
	for r, list := range vocabulary {
		for i, w := range strings.Fields(list) {
			m[w] = [2]int{int(r), i}
		}
	}
	return m
}()

var accents = strings.NewReplacer("ä", "a", "ö", "o", "ü", "u", "ß", "ss", "é", "e", "è", "e", "ê", "e", "á", "a", "à", "a",
	"â", "a", "ã", "a", "å", "a", "í", "i", "ì", "i", "î", "i", "ó", "o", "ò", "o", "ô", "o", "õ", "o", "ú", "u", "ù", "u", "û", "u",
	"ç", "c", "ñ", "n", "ø", "o", "æ", "ae", "ł", "l", "ś", "s", "ć", "c", "ż", "z", "ź", "z", "ó", "o", "ę", "e", "ą", "a", "ń", "n", "λ", "lambda", "φ", "phi")

// foldHeading splits a heading into its folded word and the unit written with it, in brackets or after an underscore.
func foldHeading(s string) (word, unit string) {
	s = accents.Replace(strings.ToLower(strings.TrimSpace(s)))
	if i := strings.IndexAny(s, "([{"); i >= 0 {
		unit = strings.Trim(s[i:], "()[]{} .")
		s = s[:i]
	} else if i := strings.LastIndexAny(s, "_ "); i > 0 {
		if u := unitName(s[i+1:]); u != "" {
			unit, s = s[i+1:], s[:i]
		}
	}
	word = strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, s)
	return word, unitName(unit)
}

// Unit names as List.Unit holds them. unitFeet is a foot that does not say which.
const (
	unitMetre  = "m"
	unitFoot   = "ft"
	unitUSFoot = "usft"
	unitDegree = "degree"
	unitFeet   = "foot of unknown kind"
)

// unitName reads the name of a unit in a heading; empty when it is none.
func unitName(s string) string {
	switch strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' {
			return r
		}
		return -1
	}, strings.ToLower(s)) {
	case "m", "metre", "metres", "meter", "meters", "metros":
		return unitMetre
	case "ift", "intft", "internationalfoot", "internationalfeet", "ftint", "fti", "footint":
		return unitFoot
	case "usft", "ftus", "sft", "ussurveyfoot", "ussurveyfeet", "surveyfoot", "surveyfeet", "usfoot", "footus", "ussft":
		return unitUSFoot
	case "ft", "feet", "foot":
		return unitFeet
	case "deg", "degree", "degrees", "grad", "dd":
		return unitDegree
	}
	return ""
}

// UnitM returns the metres in a unit of ListOptions: m, ft (international) or usft.
//
// Source: 0.3048 exactly; US survey foot 1200/3937, deprecated since 31 December 2022 (Federal Register
// 85:193, 2020-21902).
func UnitM(unit string) (m float64, ok bool) {
	switch unit {
	case unitMetre:
		return 1, true
	case unitFoot:
		return 0.3048, true
	case unitUSFoot:
		return 1200.0 / 3937, true
	}
	return 0, false
}

// layout says which column holds what; -1 is no column.
type layout struct {
	col   [roleCount]int
	units [roleCount]string
	from  string
	heads []string
}

func newLayout(from string) *layout {
	l := &layout{from: from}
	for i := range l.col {
		l.col[i] = -1
	}
	return l
}

func (l *layout) has(r role) bool  { return l.col[r] >= 0 }
func (l *layout) grid() bool       { return l.has(roleE) && l.has(roleN) }
func (l *layout) geodetic() bool   { return !l.grid() && l.has(roleLat) && l.has(roleLon) }
func (l *layout) horizontal() bool { return l.grid() || l.geodetic() }

// headings reads a line as column headings; nil when it has no pair of coordinates.
func headings(fields []string) *layout {
	l := newLayout("headings")
	l.heads = fields
	var rank [roleCount]int
	for i, f := range fields {
		word, unit := foldHeading(f)
		w, ok := words[word]
		if !ok {
			continue
		}
		r := role(w[0])
		if l.col[r] < 0 || w[1] < rank[r] {
			l.col[r], rank[r], l.units[r] = i, w[1], unit
		}
	}
	if !l.horizontal() {
		return nil
	}
	return l
}
