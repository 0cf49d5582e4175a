# lull: the targets that people and the checks on a new machine use.
# `make` alone lists them. Without root what `make tools` names cannot be installed;
# the tests that need it are skipped then.

GO       ?= go
FUZZTIME ?= 5s
# Further flags for `go test`: make test TESTFLAGS='-count=1 -v'
TESTFLAGS ?=
# make mutants MUTANTS=./decode/candump MUTANTSFLAGS='-files stretch.go'
MUTANTS  ?= ./decode/... ./analyze/...

SYSTEMS  := linux windows darwin
# Packages whose tests take -update are those that define the flag.
GOLDEN   := grep -rlE 'flag\.Bool\("update"' --include='*_test.go' . | xargs -r -n1 dirname | sort -u

.DEFAULT_GOAL := help
.PHONY: help demo build test race attack mutants lint fuzz bench microbench golden cover pictures tools

help: ## list the targets
	@awk -F ':.*## ' '/^[a-z]+:.*## / {printf "  make %-10s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

# A first build takes a minute or two, in which Go says little.
demo: ## write the demonstration drives into lull-demo and measure them
	@echo "Go fetches and builds lull: on a new machine that takes a minute or two."
	@$(GO) run ./cmd/lull demo

build: ## build ./lull
	$(GO) build -trimpath -o lull ./cmd/lull

test: tools ## install what tests need and run them all
	$(GO) test $(TESTFLAGS) ./...

# Properties draw less there: a race shows in any of their runs, and each takes
# five times as long.
race: tools ## run all tests under the race detector (needs a C compiler)
	@if command -v gcc >/dev/null || command -v clang >/dev/null; then \
		echo "$(GO) test -race -short $(TESTFLAGS) ./..."; CGO_ENABLED=1 $(GO) test -race -short $(TESTFLAGS) ./...; \
	else echo "SKIPPED: the race detector needs a C compiler (gcc)"; fi

# It ends, by itself or cut off, within two minutes. Most of it waits.
attack: ## do to the built program what strangers, bombs, kills and full disks do (Linux)
	$(GO) test -tags attack -count=1 -parallel 4 -timeout 2m $(TESTFLAGS) ./cmd/lull/internal/attack

# Hours for all; each package's own tests run for each change, and where they notice
# nothing those of the analysis of one log. Reasons of what survives and is no hole are
# in cmd/mutants/accepted.txt.
mutants: ## change single places of MUTANTS (./decode/... ./analyze/...) and tell what no test notices (MUTANTSFLAGS='-one-in 20', '-done FILE' goes on)
	$(GO) run ./cmd/mutants -also ./analyze/onelog,./analyze/measure $(MUTANTSFLAGS) $(MUTANTS)

lint: ## check format, vet for every system, staticcheck
	@bad=$$(gofmt -l .); if [ -n "$$bad" ]; then echo "gofmt would change:"; echo "$$bad"; exit 1; fi
	@for system in $(SYSTEMS); do echo "go vet for $$system"; GOOS=$$system $(GO) vet -tags attack ./... || exit 1; done
	$(GO) tool staticcheck -tags attack ./...

fuzz: ## run every fuzz target for FUZZTIME (5s)
	@GO='$(GO)' FUZZTIME='$(FUZZTIME)' bash .ci/fuzz

bench: ## speed and memory of whole processes against plain programs (BENCHFLAGS='-mb 100')
	$(GO) run ./cmd/bench $(BENCHFLAGS)

microbench: ## run the benchmarks of single functions
	$(GO) test -run '^$$' -bench . -benchmem $(TESTFLAGS) ./...

golden: ## write the golden files anew; read the difference before you keep it
	@packages=$$($(GOLDEN)); if [ -z "$$packages" ]; then echo "no package has golden files"; exit 0; fi; \
	echo "$(GO) test -update" $$packages; $(GO) test -count=1 $$packages -update

cover: ## statement coverage of decode and analyze, at least 90 % each
	@GO='$(GO)' bash .ci/cover

pictures: ## take the README's pictures of the page anew (chromium, pdftoppm); look at them
	$(GO) run ./cmd/pictures

tools: ## install the programs that tests and checks need, where they are missing; says what and how much
	@bash .ci/tools
