# quietcross: `make demo` renders built-in material and leaves a report to
# open; `make test` runs every test. See DEVELOPERS.md for the rest.

GO       ?= go
BIN      := bin/quietcross
DEMO     := demo
ENGINE   := $(CURDIR)/bin/engine
LONGEST  := ./stage ./reports/panel/server ./cmd/quietcross ./reports/lesson ./reports/live
FUZZTIME ?= 30s

.PHONY: all build engine demo test check platforms fuzz bench clean

all: build

build: engine
	$(GO) build -trimpath -o $(BIN) ./cmd/quietcross

# The engine of the live page; the program embeds it.
engine:
	$(GO) run ./reports/live/pack reports/live/built

demo: build
	$(BIN) render --force --out $(DEMO) \
		--material quiet-chord --material struck-string --material tone
	@echo "Open $(DEMO)/report.html in a browser. Start with the volume low."

# The tests make much and drop it again: collecting garbage seldom takes less time, in the
# compiler too. A package more than there are processors runs while others wait for a page
# or a clock. The engine is compiled before them and once for all. What takes longest begins
# first, or a processor would have nothing to do at the end.
test:
	mkdir -p "$(ENGINE)"
	GOGC=300 $(GO) run ./reports/live/pack "$(ENGINE)"
	GOGC=300 QUIETCROSS_ENGINE="$(ENGINE)" $(GO) test -p $$(($$(getconf _NPROCESSORS_ONLN) + 1)) $(LONGEST) ./...

# The program and its tests, type-checked for what else they run on.
platforms:
	GOOS=windows GOARCH=amd64 $(GO) vet ./...
	GOOS=darwin GOARCH=arm64 $(GO) vet ./...
	GOOS=linux GOARCH=arm64 $(GO) vet ./...
	GOOS=js GOARCH=wasm $(GO) vet ./reports/live/engine/...

check: platforms
	@out=$$($(GO) tool gofumpt -l .); test -z "$$out" || { echo "not formatted:"; echo "$$out"; exit 1; }
	$(GO) vet ./...
	$(GO) tool staticcheck ./...
	$(GO) fix -diff ./...
	@out=$$($(GO) tool deadcode -test ./...); test -z "$$out" || { echo "dead code:"; echo "$$out"; exit 1; }
	$(GO) mod tidy -diff
	$(GO) test -race -short ./...

# Each fuzz target for FUZZTIME: make fuzz FUZZTIME=10m
fuzz:
	$(GO) test -run '^$$' -fuzz '^FuzzReader$$' -fuzztime $(FUZZTIME) -fuzzminimizetime 1s ./dsp/wave
	$(GO) test -run '^$$' -fuzz '^FuzzRead$$' -fuzztime $(FUZZTIME) -fuzzminimizetime 1s ./stage
	$(GO) test -run '^$$' -fuzz '^FuzzSegment$$' -fuzztime $(FUZZTIME) -fuzzminimizetime 1s ./dsp/shape
	$(GO) test -run '^$$' -fuzz '^FuzzAnswer$$' -fuzztime $(FUZZTIME) -fuzzminimizetime 1s ./reports/panel/server

bench:
	$(GO) test -run '^$$' -bench . -benchmem ./dsp/... ./stage/... ./corpus/...

clean:
	rm -rf bin $(DEMO) reports/live/built/engine.wasm.gz reports/live/built/wasm_exec.js
