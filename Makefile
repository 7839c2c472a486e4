# Targets for people: demo, test, install, deb, image, sbom, package-test, image-test, check, bench, accuracy, mutate. The others serve them.
export CGO_ENABLED = 1
VERSION := $(shell git describe --always --dirty 2>/dev/null || echo dev)
PKGS := ./...

# What the build needs, and what the tests need besides, as Debian names them.
BUILD_DEBS := gcc g++ libc6-dev pkg-config libgdal-dev libdeflate-dev zlib1g-dev
TEST_DEBS := gdal-bin python3-gdal geographiclib-tools python-matplotlib-data poppler-utils librsvg2-bin chromium fonts-liberation python-osmnx-doc osmium-tool zsh man-db mandoc groff-base postgresql-postgis

# The general tools that make bench compares with.
BENCH_DEBS := time gdal-bin python3-rasterio python3-scipy r-cran-terra

# What packages are built and checked with.
PACKAGE_DEBS := dpkg-dev lintian mmdebstrap buildah jq binutils

.PHONY: deb image sbom package-test image-test package-deps demo build page install test check lint race picture notices mutate bench bench-parts bench-deps accuracy deps test-deps fuzz fuzz-short clean

demo: build
	./bin/gradeline demo -o out/demo --force

build: deps page
	go build -ldflags "-X main.version=$(VERSION)" -o bin/gradeline ./cmd/gradeline

# What the office's page runs in the browser; without it the server answers.
PAGE := catalog/serve/assets/wasm
page:
	@mkdir -p $(PAGE)
	CGO_ENABLED=0 GOOS=js GOARCH=wasm go build -trimpath -ldflags "-s -w" -o $(PAGE)/whatif.wasm ./catalog/whatif/wasm
	gzip -9nf $(PAGE)/whatif.wasm
	cp "$$(go env GOROOT)/lib/wasm/wasm_exec.js" $(PAGE)/

# The usual ten minutes for a package do not suffice on a machine that does much else.
test: test-deps
	go test -timeout 30m $(PKGS)

# Installs the program, its manual page and its completions, by default for this user alone.
PREFIX := $(HOME)/.local
install: build
	install -D -m 755 bin/gradeline "$(DESTDIR)$(PREFIX)/bin/gradeline"
	install -d "$(DESTDIR)$(PREFIX)/share/man/man1" "$(DESTDIR)$(PREFIX)/share/bash-completion/completions" "$(DESTDIR)$(PREFIX)/share/zsh/site-functions"
	./bin/gradeline manual > "$(DESTDIR)$(PREFIX)/share/man/man1/gradeline.1"
	./bin/gradeline completion bash > "$(DESTDIR)$(PREFIX)/share/bash-completion/completions/gradeline"
	./bin/gradeline completion zsh > "$(DESTDIR)$(PREFIX)/share/zsh/site-functions/_gradeline"
	@case ":$$PATH:" in *":$(PREFIX)/bin:"*) ;; *) echo "$(PREFIX)/bin is not in PATH: add it, or run $(PREFIX)/bin/gradeline";; esac

# Files for others, all under out/: a Debian package, an OCI image of it, a bill of materials. The
# same revision on the same Debian gives the same bytes. make package-test installs the package in a
# clean Debian, upgrades it while the page is open, and purges it; make image-test runs the image as
# its own user over a root that cannot be written. Both take minutes and need root.
NFPM := go run github.com/goreleaser/nfpm/v2/cmd/nfpm@v2.45.2
CYCLONEDX := go run github.com/CycloneDX/cyclonedx-gomod/cmd/cyclonedx-gomod@v1.10.0
EPOCH = $(shell git log -1 --format=%ct)
DEB_VERSION = 0.$(shell TZ=UTC git log -1 --format=%cd --date=format-local:%Y%m%d.%H%M%S)+g$(shell git rev-parse --short HEAD)
DEB = out/gradeline_$(DEB_VERSION)_$(shell dpkg --print-architecture).deb

deb: build package-deps
	go build -trimpath -buildvcs=false -ldflags "-X main.version=$(DEB_VERSION)" -o bin/gradeline ./cmd/gradeline
	.ci/packaging/build "$(DEB_VERSION)" "$(EPOCH)" "$(NFPM)"

image: deb
	.ci/packaging/image "$(DEB)" "$(EPOCH)"

sbom: build package-deps
	.ci/packaging/sbom "$(DEB_VERSION)" "$(EPOCH)" "$(CYCLONEDX)"

package-test: deb
	.ci/packaging/build 0.0.1+g0000000 "$(EPOCH)" "$(NFPM)"
	.ci/packaging/test "$(DEB)" out/gradeline_0.0.1+g0000000_*.deb

image-test: image demo
	.ci/packaging/test-image "out/gradeline-$(DEB_VERSION).oci.tar" out/demo/demo.gpkg

package-deps:
	@$(call install,$(PACKAGE_DEBS))

check: lint race

# What needs no test run: format, vet, linter, unreachable code, modules, notices, and
# that the advice builds for a browser.
STATICCHECK := honnef.co/go/tools/cmd/staticcheck@v0.8.2
DEADCODE := golang.org/x/tools/cmd/deadcode@v0.52.0
lint: test-deps
	@bad=$$(gofmt -l $$(git ls-files '*.go')); test -z "$$bad" || { echo "not formatted: run gofmt -w $$bad"; exit 1; }
	go vet $(PKGS)
	go vet .ci/mutate/main.go
	go vet .ci/notices/main.go
	go mod tidy -diff
	go run $(STATICCHECK) $(PKGS)
	@dead=$$(go run $(DEADCODE) -test $(PKGS)) && test -z "$$dead" || { echo "$$dead"; exit 1; }
	go run .ci/notices/main.go -check
	CGO_ENABLED=0 GOOS=js GOARCH=wasm go build -o /dev/null ./catalog/whatif/wasm

# The race detector over the packages that start goroutines; of the command only what an
# interrupt ends, since its tests run the whole program for minutes. Left out: long tests of
# what one goroutine does alone, and of what other programs do with our files.
NOT_RACED := Accuracy|Missions|Real|Cases|Browser|Offline|Print|Keyboard|ForcedColours|WithoutScripts|APassCut|HardestOfAllWays|WaysOfACatalogue|Andorra|TheBestOfAllWays|DemoHasItsDescents|AnotherClassThatHoldsAWay|EveryLayerGoesIntoOtherFormats|FlippedBytes|NamesWithScripts|DelawareAsTheLibrary|FlatMemory|OGROpens
race: test-deps
	go test -race -short -timeout 30m -skip '$(NOT_RACED)' $$(grep -lrE --include='*.go' --exclude='*_test.go' '\bgo func|\bgo [a-z]+\(|\.Go\(' catalog routes terrain | xargs -n1 dirname | sort -u | sed 's|^|./|')
	go test -race -short -run Interrupt ./cmd/gradeline

# The README's picture, from the demonstration.
picture: demo test-deps
	rsvg-convert -w 900 -b white out/demo/veltrane-pass-road-f-4.7.svg -o out/hill.png
	gdal_translate -q -b 1 -of PNG -co ZLEVEL=9 --config GDAL_PAM_ENABLED NO out/hill.png data/hill.png

# The licences of all that the binary contains; doctor --notices prints them.
notices: deps
	go run .ci/notices/main.go

# Changes one constant or comparison at a time and reports which changes no test notices.
# Minutes to hours: make mutate MUTATE="-sample 60 ./catalog/holding"
MUTATE := -sample 60 ./catalog/holding ./catalog/vehicle ./catalog/debrief ./catalog/signs ./routes/descent ./routes/grade ./catalog/resurvey ./routes/vector
mutate: test-deps
	go run .ci/mutate/main.go $(MUTATE)

# Side by side: general tools, GDAL's decode, our sampler, the whole survey; minutes.
# Larger: make bench BENCH="-side.grow=1000,10000,100000 -side.cells=20000". Data is kept in out/bench.
BENCH :=
bench: build bench-deps
	go test ./terrain/raster -run '^$$' -bench BenchmarkSideBySide -benchtime 1x -timeout 120m -args $(BENCH)
	go test ./catalog/survey -run '^$$' -bench 'BenchmarkExtract|BenchmarkKeptNetwork' -benchtime 1x -benchmem -timeout 60m

# Every package's own benchmarks, the side by side and the accuracy left out.
bench-parts: deps
	go test -run '^$$' -bench . -skip 'BenchmarkSideBySide|BenchmarkAccuracy' -benchmem $(PKGS)

bench-deps:
	@$(call install,$(BENCH_DEBS))

ACCURACY := -accuracy.set=testing
accuracy: deps
	go test ./catalog/survey -run '^$$' -bench BenchmarkAccuracy -benchtime 1x -timeout 120m -args $(ACCURACY)

# Each fuzz target for a few seconds.
FUZZTIME := 5s
fuzz: deps
	@for p in $$(go list $(PKGS)); do for f in $$(go test -list '^Fuzz' $$p | grep '^Fuzz'); do \
		echo "$$p $$f"; go test -run '^$$' -fuzz "^$$f$$" -fuzztime $(FUZZTIME) $$p || exit 1; done; done

# Each fuzz target 500 times (by count: by time the fuzzer at its end now and then calls
# its own deadline a failure), in the binaries that make test builds: without the
# coverage that guides make fuzz, whose instrumented build takes minutes by itself.
FUZZSHORT := 500x
fuzz-short: deps
	@tmp=$$(mktemp -d); trap 'rm -rf "$$tmp"' EXIT; \
	grep -rl --include='*_test.go' '^func Fuzz' . | xargs -n1 dirname | sort -u | \
	xargs -P 2 -I{} sh -ec 'p={}; b='"$$tmp"'/$$(echo $$p | tr / _); go test -c -o $$b $$p; cd $$p; \
	for f in $$($$b -test.list "^Fuzz"); do \
		$$b -test.run "^$$" -test.fuzz "^$$f\$$" -test.fuzztime $(FUZZSHORT) -test.fuzzminimizetime 10x -test.parallel 1 -test.fuzzcachedir '"$$tmp"'/cache >$$b.$$f 2>&1 || { cat $$b.$$f; exit 255; }; \
		echo "$$p $$f $$(grep -o "execs: [0-9]*" $$b.$$f | tail -1)"; done'

# Installs only what is missing; elsewhere than on Debian it says what to install.
deps:
	@$(call install,$(BUILD_DEBS))
test-deps:
	@$(call install,$(BUILD_DEBS) $(TEST_DEBS))
define install
missing=""; for p in $(1); do dpkg-query -W -f '$${Status}' $$p 2>/dev/null | grep -q 'install ok installed' || missing="$$missing $$p"; done; \
if [ -n "$$missing" ]; then \
	command -v apt-get >/dev/null || { echo "install what Debian calls:$$missing"; exit 1; }; \
	sudo=""; [ "$$(id -u)" = 0 ] || sudo=sudo; \
	echo "installing:$$missing"; \
	$$sudo apt-get update -qq && DEBIAN_FRONTEND=noninteractive $$sudo apt-get install -y -qq --no-install-recommends $$missing >/dev/null; \
fi
endef

clean:
	rm -rf bin out $(PAGE)
