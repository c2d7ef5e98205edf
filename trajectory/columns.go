package trajectory

import "strings"

// role is what a column of a text file holds.
type role int

const (
	roleIgnore role = iota
	roleTime
	roleDate
	roleWeek
	roleLat
	roleLon
	roleE
	roleN
	roleH
	roleRoll
	rolePitch
	roleHeading
	roleWander
	roleVE
	roleVN
	roleVU
	roleSE
	roleSN
	roleSU
	roleSRoll
	roleSPitch
	roleSHeading
	roleQuality
	roleKnown // a column of the trade that is not read: course, satellites, PDOP
	roleCount
)

func (r role) String() string {
	return [...]string{"ignored", "time", "date", "week", "latitude", "longitude", "easting", "northing", "height", "roll", "pitch", "heading",
		"wander angle", "east velocity", "north velocity", "up velocity", "east sigma", "north sigma", "height sigma", "roll sigma", "pitch sigma",
		"heading sigma", "quality", "not read"}[r]
}

// words holds the heading words met in exports, lower case, letters and digits
// only: English, German, French, Spanish, Italian. Common practice.
var words = map[role]string{
	roleTime: "time t gpstime gpst gpstow tow towsec sow gpssow secondsofweek secofweek weekseconds gpsseconds gpssec utctime utc timestamp " +
		"unixtime posixtime posix unix seconds second sec epoch sod secondsofday secofday timeofweek timeofday gpssecondsofweek zeit temps tiempo tempo hhmmss",
	roleDate:     "date datum yyyymmdd utcdate gpsdate fecha",
	roleWeek:     "week gpsweek wn weekno weeknumber",
	roleLat:      "lat latitude phi breite latitud latitudine latdeg latrad",
	roleLon:      "lon long lng longitude lambda länge laenge longitud longitudine londeg lonrad",
	roleE:        "e east easting x xe rechtswert rechts ost est este eastings",
	roleN:        "n north northing y yn hochwert hoch nord norte northings",
	roleH:        "h z height alt altitude elev elevation ellipsoidheight ellipsoidalheight hell hae altell heightell ellheight altitudehae orthometricheight hmsl altmsl up u höhe hoehe hauteur altezza altura",
	roleRoll:     "roll rollangle rx wanken roulis",
	rolePitch:    "pitch pitchangle ry nick nicken tangage",
	roleHeading:  "heading head hdg azimuth azi yaw trueheading headingtrue platformheading gridheading rz kurs gier gieren cap lacet azimut",
	roleWander:   "wander wanderangle",
	roleVE:       "ve veast eastvelocity velocityeast velocitye vele vx xvelocity velx velocityx vxe evel",
	roleVN:       "vn vnorth northvelocity velocitynorth velocityn veln vy yvelocity vely velocityy vyn nvel",
	roleVU:       "vu vup upvelocity velocityup velocityu velu vz zvelocity velz velocityz vh uvel",
	roleSE:       "sde stde sigmae sdeast stdeast eaststd eastsd eaststddev stddeveast sigmaeast rmse rmseast eastpositionrms eastrms sdx stdx sigmax sx se",
	roleSN:       "sdn stdn sigman sdnorth stdnorth northstd northsd northstddev stddevnorth sigmanorth rmsnorth northpositionrms northrms sdy stdy sigmay sy sn",
	roleSU:       "sdu stdu sigmau sdup stdup upstd upsd upstddev stddevup sigmaup sdh stdh sigmah sdheight stdheight heightstd heightsd rmsdown downpositionrms downrms sdz stdz sigmaz sz su sh",
	roleSRoll:    "sdroll stdroll sigmaroll rollstd rollsd rollrms rollstddev",
	roleSPitch:   "sdpitch stdpitch sigmapitch pitchstd pitchsd pitchrms pitchstddev",
	roleSHeading: "sdheading stdheading sigmaheading headingstd headingsd headingrms headingstddev sdyaw stdyaw yawstd sigmayaw sdhdg hdgstd",
	roleQuality:  "q quality qual fix fixtype solution",
	roleKnown: "course cog track ground groundspeed speed ns sats satellites nsat numsats pdop hdop vdop age ratio sdne sdeu sdun gamma convergence scale " +
		"northvelocityrms eastvelocityrms downvelocityrms vd vdown downvelocity ax ay az xacceleration yacceleration zacceleration xaccel yaccel zaccel xangularrate yangularrate zangularrate xbodyangularrate ybodyangularrate zbodyangularrate",
}

var roleOf = func() map[string]role {
	m := map[string]role{}
	for r, list := range words {
		for _, w := range strings.Fields(list) {
			m[w] = r
		}
	}
	return m
}()

// wordRole returns the role of one heading word, roleIgnore if it is not known.
func wordRole(s string) role {
	w, _ := plainWord(s)
	return roleOf[w]
}

// unit of angle that a heading states.
type angleUnit int

const (
	unitUnstated angleUnit = iota
	unitDegrees
	unitRadians
)

func statedAngle(heading string) angleUnit {
	_, u := plainWord(heading)
	low := strings.ToLower(heading)
	switch {
	case strings.HasPrefix(u, "rad") || strings.HasSuffix(low, "rad"):
		return unitRadians
	case strings.HasPrefix(u, "deg") || u == "°" || u == "dd" || strings.HasSuffix(low, "deg"):
		return unitDegrees
	}
	return unitUnstated
}

// layout is the meaning of the columns of a file.
type layout struct {
	at        [roleCount]int // column of each role, -1 = absent
	names     []string       // heading word of each column; empty without a heading
	byRange   bool
	orderSure bool // the ranges leave no doubt which of the coordinates comes first
}

func newLayout() *layout {
	l := &layout{}
	for i := range l.at {
		l.at[i] = -1
	}
	return l
}

func (l *layout) has(r role) bool { return l.at[r] >= 0 }

// unitOf returns the angle unit that the heading states for a role.
func (l *layout) unitOf(r role) angleUnit {
	if !l.has(r) || l.at[r] >= len(l.names) {
		return unitUnstated
	}
	return statedAngle(l.names[l.at[r]])
}

// layoutFromHeading gives every column its role by its word.
func layoutFromHeading(heading []string, fields int) *layout {
	l := newLayout()
	l.names = heading
	if len(heading) == fields-1 { // one word over a date and a clock
		i := 0
		for i < len(heading) && wordRole(heading[i]) != roleTime {
			i++
		}
		if i < len(heading) {
			l.names = append(append(append([]string{}, heading[:i]...), "date", heading[i]), heading[i+1:]...)
		}
	}
	for i, s := range l.names {
		if r := wordRole(s); r != roleIgnore && r != roleKnown && l.at[r] < 0 && i < fields {
			l.at[r] = i
		}
	}
	return l
}

// complete reports whether time and three coordinates are there, and else what is missing.
func (l *layout) missing() string {
	switch {
	case !l.has(roleTime):
		return "time"
	case !(l.has(roleLat) && l.has(roleLon)) && !(l.has(roleE) && l.has(roleN)):
		return "position (latitude and longitude, or easting and northing)"
	case !l.has(roleH):
		return "height"
	}
	return ""
}

// statedLength returns the metres in the unit of length that a heading states, 0 for none.
//
// Source: international foot 0.3048 m; US survey foot 1200/3937 m.
func statedLength(heading string) float64 {
	_, u := plainWord(heading)
	switch strings.NewReplacer(" ", "", "_", "", "-", "").Replace(u) {
	case "m", "meter", "metre", "meters", "metres":
		return 1
	case "ft", "feet", "foot", "ift", "intft", "internationalfeet":
		return 0.3048
	case "usft", "ftus", "sft", "surveyft", "usfeet", "ussurveyfeet", "ussurveyfoot":
		return 1200.0 / 3937
	}
	return 0
}

// lengthOf returns the stated unit of length of a role.
func (l *layout) lengthOf(r role) float64 {
	if !l.has(r) || l.at[r] >= len(l.names) {
		return 0
	}
	return statedLength(l.names[l.at[r]])
}
