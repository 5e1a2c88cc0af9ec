# The front door. Everything else is meson's: see meson.build.
#
#   make            builds build/evenspool
#   make demo       renders two imaginary decks, measures both, shows the notes
#   make test       all tests
#   make bench      the figures of speed, memory and accuracy
#   make install    PREFIX (default /usr/local), DESTDIR
#   make sanitize   all tests again under address, undefined and thread sanitizers
#   make fuzz       feeds broken input, SECONDS per target (default 60)
#   make lint       second compiler and static checkers, as far as they are installed
#   make format     lays out the C code
#   make clean      removes the build folders
#
# BUILD names the build folder, JOBS limits how many compilers run at once. Missing Debian packages
# are installed first (scripts/bootstrap); `make BOOTSTRAP=true ...` leaves that out.

BUILD ?= build
PREFIX ?= /usr/local
SECONDS ?= 60
BOOTSTRAP ?= scripts/bootstrap
export JOBS
TEST = meson test --no-rebuild --print-errorlogs

.PHONY: all demo test bench install sanitize fuzz lint format clean

all:
	@$(BOOTSTRAP) build
	@scripts/build $(BUILD)

demo: all
	@scripts/demo $(BUILD)

test:
	@$(BOOTSTRAP) build test sound page
	@scripts/build $(BUILD)
	@$(TEST) -C $(BUILD) --timeout-multiplier 4

bench:
	@$(BOOTSTRAP) build test
	@scripts/build $(BUILD)
	@meson test --no-rebuild -C $(BUILD) --benchmark --verbose --timeout-multiplier 10

install: all
	@meson configure $(BUILD) -Dprefix=$(PREFIX)
	@meson install -C $(BUILD)

sanitize:
	@$(BOOTSTRAP) build test sound
	@scripts/sanitize $(BUILD)

fuzz:
	@$(BOOTSTRAP) build tools
	@scripts/fuzz $(BUILD)-fuzz $(SECONDS)

lint:
	@$(BOOTSTRAP) build
	@scripts/lint $(BUILD)-lint

format:
	@$(BOOTSTRAP) tools
	@find src include tests benchmarks -name '*.[ch]' -exec clang-format -i {} +

clean:
	rm -rf $(BUILD) $(BUILD)-asan $(BUILD)-tsan $(BUILD)-fuzz $(BUILD)-lint
