package view

import (
	"dwellbook/internal/desk"
	"dwellbook/internal/proof"
)

// RecordOfHeads is the page Record: the head now, and a kept one held against it.
type RecordOfHeads struct {
	Shell Shell
	Form  Form
	House *desk.House
	Now   proof.Signed
	Check *desk.HeadCheck // nil: none was given
}
