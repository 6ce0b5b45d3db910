# The toolchain with the fixes the server needs; it comes through the Go proxy.
export GOTOOLCHAIN = go1.27.3

TEMPL       = go run github.com/a-h/templ/cmd/templ@v0.3.1100
STATICCHECK = go run honnef.co/go/tools/cmd/staticcheck@v0.8.2
GOVULNCHECK = go run golang.org/x/vuln/cmd/govulncheck@v1.9.0
GOSEC       = go run github.com/securego/gosec/v2/cmd/gosec@v2.30.0
CHROMIUM    = $(shell command -v chromium)

.PHONY: demo test check fuzz vuln run bench phone boards torture load build generate browser judge picture

demo: ## an invented hospital, served
	go run ./cmd/server demo

test: browser ## everything, with the browser
	go test ./...

browser: ## Debian's chromium, for the browser tests
	@test -n "$(CHROMIUM)" || (apt-get update -q && DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends chromium) >/dev/null

check: generate ## format, generated files, vet, staticcheck, unit tests
	@test -z "$$(gofmt -l cmd internal migrations web)" || (gofmt -l cmd internal migrations web; false)
	@git diff --exit-code --stat -- '*_templ.go'
	go vet ./...
	$(STATICCHECK) ./...
	go test -short ./...

generate: ## the Go code of the pages
	cd web/view && $(TEMPL) generate

FUZZTIME = 30s
fuzz: ## every fuzz target for FUZZTIME; what fails is kept beside the test, to be committed
	@grep -rEo --include='*_test.go' '^func Fuzz[A-Za-z0-9_]+' cmd internal web | sed 's|/[^/]*:func | |' | while read dir target; do \
		echo "$$target ($$dir)"; \
		go test -run '^$$' -fuzz "^$$target\$$" -fuzztime $(FUZZTIME) "./$$dir" || exit 1; \
	done

# The database of vulnerabilities comes as a module and is indexed by its own
# command, so that nothing but the Go proxy is asked.
VULNS = $(or $(XDG_CACHE_HOME),$(HOME)/.cache)/dwellbook/vulnerabilities
vuln: ## known holes in what is linked, then gosec; both slow
	@rm -rf "$(VULNS)"; \
	module=$$(cd / && go mod download -json golang.org/x/vulndb@latest) && \
	dir=$$(echo "$$module" | sed -n 's/.*"Dir": "\(.*\)".*/\1/p') && \
	go run golang.org/x/vulndb/cmd/indexdb@$$(echo "$$module" | sed -n 's/.*"Version": "\(.*\)".*/\1/p') -out "$(VULNS)" -vulns "$$dir/data/osv"
	$(GOVULNCHECK) -db "file://$(VULNS)" ./...
	# G115, a conversion between sizes of integers: codes and minutes are bounded
	# by their types' own checks and by tests; the rule sees none of that.
	$(GOSEC) -quiet -exclude-generated -exclude G115 ./...

run: ## serve dwellbook.db, restarting when a file changes
	@while true; do \
		go run ./cmd/server serve -db dwellbook.db & pid=$$!; \
		touch .run; while [ -z "$$(find cmd internal migrations web -newer .run -type f | head -1)" ]; do sleep 1; done; \
		pkill -P $$pid; wait $$pid; \
	done

bench: ## the speed benchmarks; the first time a record of a million lines is made and kept in the user's cache
	@uptime
	@echo "1000 writes of 4 KiB, each synced:"; f=$$(mktemp); dd if=/dev/zero of=$$f bs=4k count=1000 oflag=dsync 2>&1 | tail -1; rm -f $$f
	go test -run '^$$' -bench . -benchtime 2s -timeout 30m ./internal/...

phone: browser ## the ward board and the round on a throttled phone: times, and the script it is sent
	@uptime
	go test ./internal/app -run '^$$' -bench Phone -benchtime 1x

boards: ## what 300 open boards cost the server when nothing happens
	@uptime
	go test ./internal/app -run '^$$' -bench OpenBoards -benchtime 1x

KILLS = 300
torture: ## the server killed while people record, on a full disk and on one that fails: nothing is lost
	@command -v strace >/dev/null || apt-get install -y -q --no-install-recommends strace >/dev/null
	go test ./internal/app/torture -v -count 1 -timeout 60m -torture $(KILLS)

LOAD = 5m
LINES = 1000000
load: ## a large hospital at its peak hour, on a record of ten years (made once and kept) and on a fresh one
	@uptime
	go test ./internal/app/torture -run Load -v -count 1 -timeout 0 -load $(LOAD) -lines $(LINES)

build: ## one static binary
	CGO_ENABLED=0 go build -trimpath -ldflags '-s -w' -o bin/dwellbook ./cmd/server

JUDGES = ../shared/judges
judge: ## the page checkers, where they are to be had, against a demo of their own
	@test -d $(JUDGES) || (echo "the page checkers are not here"; false)
	bash testdata/judge.sh $(JUDGES)

picture: browser ## the README's picture of the ward board
	PICTURE=$(CURDIR)/testdata/ward-board.png go test ./internal/app -run DrawsTheReadmesPicture -count 1
