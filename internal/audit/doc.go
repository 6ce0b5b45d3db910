// Package audit turns one patient's history and the rulebook into dated
// duties and concerns. It is one pure function, Assess: no clock, no database.
//
// A duty must be done by a moment; a concern is a condition that holds for a
// stretch of time. A finding at a moment is a duty that is due and not ended
// then, or a concern that holds then, and that no justification covers. Boards,
// work lists, audits of past moments, counts and advice while a form is filled
// in are all slices of an Assessment.
//
// Each rule stands in a file of its own (rule_<id>.go): what it is called, how
// it is judged and the words of its messages. Every threshold is a value of the
// policy in force; the embedded default.toml names the source of each.
package audit
