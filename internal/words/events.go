package words

// event is a kind of event in the forms that sentences need.
type event struct{ done, noun, doing string }

// events by their kind in events.csv; the grower's own kinds are not among them.
var events = map[string]event{
	"repot":  {"repotted", "the repot", "repotting"},
	"medium": {"new medium", "the new medium", "change of medium"},
	"feed":   {"feeding changed", "the change of feed", "feeding"},
	"water":  {"watering changed", "the change of watering", "watering"},
	"light":  {"light changed", "the change of light", "change of light"},
	"move":   {"moved", "the move", "move"},
	"treat":  {"treated", "the treatment", "treatment"},
	"cut":    {"cut back", "the cut", "cutting"},
}

// EventDone is an event's kind as it stands in a list of what was done: "repotted".
func EventDone(kind string) string {
	if e, ok := events[kind]; ok {
		return e.done
	}
	if kind == "other" {
		return "event"
	}
	return kind
}

// EventNoun is an event's kind as a noun with its article: "the repot".
func EventNoun(kind string) string {
	if e, ok := events[kind]; ok {
		return e.noun
	}
	return "the event (" + kind + ")"
}

// EventDoing is an event's kind as it stands before a date: "the repotting of 18 April 2026".
func EventDoing(kind string) string {
	if e, ok := events[kind]; ok {
		return e.doing
	}
	return "event"
}
