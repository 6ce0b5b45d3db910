// Command server is Dwellbook: the record of a hospital's peripheral venous
// cannulas, its audit and its screens, in one program on one file.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
	_ "time/tzdata" // for a machine or container that has no zones of its own

	"dwellbook/internal/app"
)

// The ways a command can end.
const (
	done    = 0
	found   = 1 // findings, where asked
	misused = 2
	undone  = 3 // it could not be done
)

type command struct {
	name, summary string
	run           func(ctx context.Context, args []string, std streams) (int, error)
}

type streams struct{ out, err io.Writer }

var commands = []command{
	{"serve", "serve the screens over a record", serve},
	{"demo", "make an invented hospital and serve it", demonstrate},
	{"audit", "say what is due and what to mind, at any moment", auditLines},
	{"compliance", "count the duties of a period: met, late, missed, hours overdue", compliance},
	{"outcomes", "say how long lines last, what ended them, and how often", outcomes},
	{"operators", "say how each operator does at first attempts, and where the sums signalled", operators},
	{"flow", "say how fast a fluid runs through a cannula", flowThrough},
	{"report", "write a month's report as one HTML file", report},
	{"import", "read an audit sheet or another record's entries into a record", importFile},
	{"export", "write every entry as JSON Lines", export},
	{"backup", "copy a record while it is in use, and check the copy", backup},
	{"restore", "put a checked backup in a record's place", restore},
	{"head", "sign the record's head, to be kept elsewhere", head},
	{"verify", "find any entry that was altered, and check a kept head", verify},
	{"rebuild", "remake and compare all tables derived from the entries", rebuild},
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], streams{os.Stdout, os.Stderr}))
}

func run(ctx context.Context, args []string, std streams) int {
	if len(args) == 0 {
		usage(std.err)
		return misused
	}
	if args[0] == "-lang" && len(args) > 2 {
		spoken, err := app.InLanguage(ctx, args[1])
		if err != nil {
			fmt.Fprintln(std.err, err)
			return misused
		}
		ctx, args = spoken, args[2:]
	}
	switch args[0] {
	case "-h", "-help", "--help", "help":
		usage(std.out)
		return done
	}
	for _, c := range commands {
		if c.name != args[0] {
			continue
		}
		end, err := c.run(ctx, args[1:], std)
		var misuse *app.Misuse
		switch {
		case errors.Is(err, flag.ErrHelp):
			return done
		case errors.As(err, &misuse):
			fmt.Fprintf(std.err, "%s: %s\n", c.name, misuse.Text)
			return misused
		case err != nil:
			fmt.Fprintf(std.err, "%s: %s\n", c.name, app.Explain(ctx, err))
			return undone
		}
		return end
	}
	fmt.Fprintf(std.err, "there is no command %q\n\n", args[0])
	usage(std.err)
	return misused
}

func usage(w io.Writer) {
	fmt.Fprint(w, "Dwellbook keeps a hospital's record of peripheral venous cannulas.\n\nUse: server [-lang TAG] COMMAND [flags]\n\n")
	for _, c := range commands {
		fmt.Fprintf(w, "  %-10s %s\n", c.name, c.summary)
	}
	fmt.Fprint(w, "\nserver COMMAND -h tells a command's flags.\n")
}

// flags makes a command's flag set; help goes to standard output, complaints to standard error.
func flags(name, use string, std streams) *flag.FlagSet {
	f := flag.NewFlagSet(name, flag.ContinueOnError)
	f.SetOutput(std.err)
	f.Usage = func() {
		fmt.Fprintf(f.Output(), "Use: server %s %s\n\n", name, use)
		f.PrintDefaults()
	}
	return f
}

// parse reads the flags and up to most further arguments.
func parse(f *flag.FlagSet, args []string, std streams, most int) error {
	for _, a := range args {
		if a == "-h" || a == "-help" || a == "--help" {
			f.SetOutput(std.out)
		}
	}
	if err := f.Parse(args); err != nil {
		if errors.Is(err, flag.ErrHelp) {
			return err
		}
		return &app.Misuse{Text: err.Error()}
	}
	if f.NArg() > most {
		return &app.Misuse{Text: fmt.Sprintf("%q is more than it takes; see -h", f.Arg(most))}
	}
	return nil
}

// need refuses a flag that was left out.
func need(name, value string) error {
	if value == "" {
		return &app.Misuse{Text: name + " is needed; see -h"}
	}
	return nil
}
