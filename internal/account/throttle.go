package account

import "time"

// Failures are failed sign-ins in a row.
type Failures struct {
	N    int
	Last time.Time
}

// Tries are the failed sign-ins that count against the next one.
type Tries struct {
	Here    Failures // under the name, on the device or from the address
	Name    Failures // under the name, from anywhere
	Address Failures // from the address, under any name
	Known   bool     // the person has signed in on the device before
}

// throttle is how many failures are free, and how long a pause grows.
type throttle struct {
	free    int
	longest time.Duration
}

// House rules. The latter two slow guessing that is spread over addresses or
// names. They do not touch a device that knows the person, so that nobody can
// keep a ward out from elsewhere (OWASP, Slow Down Online Guessing Attacks with
// Device Cookies, from memory).
var (
	here    = throttle{free: 4, longest: 5 * time.Minute}
	name    = throttle{free: 20, longest: time.Minute}
	address = throttle{free: 50, longest: time.Minute}
)

// Wait is how long the next sign-in must wait.
func (t Tries) Wait(now time.Time) time.Duration {
	wait := here.wait(t.Here, now)
	if t.Known {
		return wait
	}
	return max(wait, name.wait(t.Name, now), address.wait(t.Address, now))
}

// wait doubles from 2 s with each failure beyond the free ones.
func (t throttle) wait(f Failures, now time.Time) time.Duration {
	if f.N <= t.free {
		return 0
	}
	pause := min(2*time.Second<<min(f.N-t.free-1, 10), t.longest)
	return max(0, pause-now.Sub(f.Last))
}
