// A limit on address space (ulimit -v) ends a Go program with a dump of its stacks, or
// before its first line of Go: it reserves far more than it uses, as each thread of C does.
// So the limit is looked at before Go starts.

#include <stdio.h>
#include <sys/resource.h>
#include <unistd.h>

__attribute__((constructor)) static void checkAddressSpace(void) {
	struct rlimit limit;
	if (getrlimit(RLIMIT_AS, &limit) != 0 || limit.rlim_cur == RLIM_INFINITY) return;
	// Measured with two cores: surveys of small and large rasters ended well from 2.2 GB up.
	long cores = sysconf(_SC_NPROCESSORS_ONLN);
	unsigned long long leastMB = 2000 + 128 * (cores > 0 ? cores : 1), givenMB = limit.rlim_cur / 1000000;
	if (givenMB >= leastMB) return;
	fprintf(stderr, "gradeline: too little memory: its address space is limited to %llu MB (ulimit -v), and it needs %llu MB, most of which it only reserves; raise that limit, or limit the memory in use by GOMEMLIMIT\n", givenMB, leastMB);
	_exit(1);
}
