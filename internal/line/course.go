package line

// Course is one line from placement to its end, as it now stands: what the
// outcomes read.
type Course struct {
	Line      Key
	Ward      Key // that had the patient when the line was placed; 0: none is known
	Placed    Minute
	Out       Minute    // when it came out; found gone: the last look; Far while it is in
	Precision Precision // of Placed: NotKnown means first seen then
	Site      Site
	Side      Side
	Gauge     Gauge // 0: not known
	Asepsis   Asepsis
	Reason    Reason    // 0 while it is in
	Infection Infection // what the infection-control lead found last; 0: nothing
}
