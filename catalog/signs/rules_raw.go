package signs

// The file's own shape: quantities are text with their unit, as people write
// them ("3000ft", "5%", "55mph").
type rawSet struct {
	Schema  string `toml:"schema"`
	ID      string `toml:"id"`
	Title   string `toml:"title"`
	Edition string `toml:"edition"`
	Ours    bool   `toml:"ours"`
	Country string `toml:"country"`
	Units   string `toml:"units"`
	Side    string `toml:"side"`
	Note    string `toml:"note"`

	Source    []rawSource       `toml:"source"`
	Choice    []rawChoice       `toml:"choice"`
	Warrant   []rawWarrant      `toml:"warrant"`
	Sign      []rawSign         `toml:"sign"`
	Rounding  rawRounding       `toml:"rounding"`
	Bench     rawBench          `toml:"bench"`
	Spacing   rawSpacing        `toml:"spacing"`
	Sight     rawSight          `toml:"sight"`
	Curve     rawCurve          `toml:"curve"`
	Placement rawPlacement      `toml:"placement"`
	Shows     map[string]string `toml:"shows"`
	Older     []rawOlder        `toml:"older"`
	Listed    []rawListed       `toml:"listed"`
	Road      []rawRoad         `toml:"road"`
	Size      []rawSize         `toml:"size"`

	Combination []rawCombination `toml:"combination"`

	Mode         string `toml:"mode"`
	WarningShape string `toml:"warning_shape"`
}

type rawCombination struct {
	Sign   string     `toml:"sign"`
	With   [][]string `toml:"with"`
	Source string     `toml:"source"`
}

type rawRoad struct {
	ID     string `toml:"id"`
	Words  string `toml:"words"`
	Edge   string `toml:"edge"`
	Offset string `toml:"offset"`
	Height string `toml:"height"`
	Source string `toml:"source"`
}

type rawSize struct {
	Signs  []string `toml:"signs"`
	Roads  []string `toml:"roads"`
	UpTo   string   `toml:"up_to"`
	Size   string   `toml:"size"`
	Source string   `toml:"source"`
}

type rawSource struct {
	Key      string `toml:"key"`
	Document string `toml:"document"`
	Section  string `toml:"section"`
	Edition  string `toml:"edition"`
	Status   string `toml:"status"`
	Note     string `toml:"note"`
}

type rawChoice struct {
	Name     string `toml:"name"`
	Question string `toml:"question"`
	Default  string `toml:"default"`
	Source   string `toml:"source"`
	Option   []struct {
		ID    string `toml:"id"`
		Words string `toml:"words"`
	} `toml:"option"`
}

type rawWarrant struct {
	ID       string   `toml:"id"`
	Words    string   `toml:"words"`
	Shortest string   `toml:"shortest"`
	InPart   bool     `toml:"in_part"`
	Source   string   `toml:"source"`
	Row      []rawRow `toml:"row"`
}

type rawRow struct {
	GradeFrom  string `toml:"grade_from"`
	GradeOver  string `toml:"grade_over"`
	LongerThan string `toml:"longer_than"`
}

type rawSign struct {
	Role           string   `toml:"role"`
	Variant        string   `toml:"variant"`
	Warrant        string   `toml:"warrant"`
	Designation    string   `toml:"designation"`
	Also           []string `toml:"also"`
	Name           string   `toml:"name"`
	Plaques        []string `toml:"plaques"`
	Legend         string   `toml:"legend"`
	Distance       string   `toml:"distance"`
	Every          string   `toml:"every"`
	LeastRemaining string   `toml:"least_remaining"`
	SteeperByPct   string   `toml:"steeper_by"`
	Apart          string   `toml:"apart"`
	ApartUnlessPct string   `toml:"apart_unless_steeper_by"`
	Advice         bool     `toml:"advice"`
	Shape          string   `toml:"shape"`
	Source         string   `toml:"source"`
}

type rawRounding struct {
	Grade  string `toml:"grade"`
	Source string `toml:"source"`
}

type rawBench struct {
	Below      string `toml:"below"`
	LongerThan string `toml:"longer_than"`
	Source     string `toml:"source"`
}

type rawSpacing struct {
	Least  string `toml:"least"`
	Source string `toml:"source"`
}

type rawSight struct {
	Distance    string `toml:"distance"`
	ClearOffset string `toml:"clear_offset"`
	Source      string `toml:"source"`
}

type rawCurve struct {
	UnderBy  string `toml:"under_by"`
	Step     string `toml:"step"`
	TurnUpTo string `toml:"turn_up_to"`
	Gap      string `toml:"gap"`
	Source   string `toml:"source"`
	Lateral  []struct {
		UpTo         string  `toml:"up_to"`
		GravityShare float64 `toml:"gravity_share"`
	} `toml:"lateral"`
}

type rawPlacement struct {
	Kind       string   `toml:"kind"`
	ReactionS  float64  `toml:"reaction_s"`
	DecelMPS2  float64  `toml:"deceleration_mps2"`
	StopMPS2   float64  `toml:"stop_deceleration_mps2"`
	Legibility string   `toml:"legibility"`
	Floor      string   `toml:"floor"`
	Step       string   `toml:"step"`
	Source     string   `toml:"source"`
	Advised    []string `toml:"advised"`
	Row        []struct {
		Approach  string   `toml:"approach"`
		Distances []string `toml:"distances"`
		From      string   `toml:"from"`
		To        string   `toml:"to"`
		Visible   string   `toml:"visible"`
	} `toml:"row"`
}

type rawOlder struct {
	Edition string `toml:"edition"`
	Was     string `toml:"was"`
	Now     string `toml:"now"`
}

type rawListed struct {
	Designation string `toml:"designation"`
	Use         string `toml:"use"`
	Words       string `toml:"words"`
	Source      string `toml:"source"`
}
