package page

// Job is what the user says of the job, as free text; what is left out is not shown.
type Job struct {
	Complaint, Vehicle, Plate, Mileage, Workshop, Order, Technician, Note, Date string
}

// Field is one of the texts of a Job.
type Field struct {
	Key   string // of the flag, and in the page's form
	Label string
	Help  string
	Most  int  // characters that the page's form takes
	Long  bool // may be of several lines
	Kept  bool // can be remembered for the next sheet
	Of    func(*Job) *string
}

// Fields are those of a Job, in the order in which they are asked for and shown.
var Fields = []Field{
	{Key: "complaint", Label: "Complaint", Help: "the customer's complaint", Most: 2000, Long: true, Of: func(j *Job) *string { return &j.Complaint }},
	{Key: "vehicle", Label: "Vehicle", Help: "the vehicle; default: the map's", Most: 500, Of: func(j *Job) *string { return &j.Vehicle }},
	{Key: "plate", Label: "Plate or identification number", Help: "its plate or identification number", Most: 200, Of: func(j *Job) *string { return &j.Plate }},
	{Key: "mileage", Label: "Mileage", Help: "its mileage", Most: 200, Of: func(j *Job) *string { return &j.Mileage }},
	{Key: "workshop", Label: "Workshop", Help: "the workshop", Most: 500, Kept: true, Of: func(j *Job) *string { return &j.Workshop }},
	{Key: "order", Label: "Order", Help: "number of the repair order", Most: 200, Of: func(j *Job) *string { return &j.Order }},
	{Key: "technician", Label: "Technician", Help: "who measured", Most: 200, Kept: true, Of: func(j *Job) *string { return &j.Technician }},
	{Key: "date", Label: "Date", Help: "date of the sheet; as 2026-03-31 it is that of the PDF too", Most: 100, Of: func(j *Job) *string { return &j.Date }},
	{Key: "note", Label: "Note", Help: "a note", Most: 5000, Long: true, Of: func(j *Job) *string { return &j.Note }},
}

// Extent says how much a report shows.
type Extent struct {
	Full bool // beyond the sheet what it is based on
	All  bool // with pictures of what is plain, too
}
