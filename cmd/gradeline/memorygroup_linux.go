package main

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// littleB is the limit of a memory group below which the end of a command is watched. A survey of a
// large network uses up to half of it.
const littleB = 1 << 30

// leastB is the least limit with which anything is tried. Measured: a list ends well from 20 MB up
// alone and from 40 MB up in a second process, a survey of the demonstration from 80 MB up.
const leastB = 32_000_000

// littleMemory is the limit of the process's memory group (cgroups(7)) in bytes, where it is below
// littleB; 0 otherwise and in the second process.
func littleMemory() int64 {
	groups, err := os.ReadFile("/proc/self/cgroup")
	if err != nil || os.Getenv(supervisedMark) != "" {
		return 0
	}
	least := int64(littleB)
	for _, line := range strings.Split(string(groups), "\n") {
		parts := strings.SplitN(line, ":", 3)
		if len(parts) < 3 {
			continue
		}
		file, root := "memory.max", "/sys/fs/cgroup" // version 2
		if parts[1] == "memory" {
			file, root = "memory.limit_in_bytes", "/sys/fs/cgroup/memory"
		} else if parts[1] != "" {
			continue
		}
		// The group's own folder, or in a container the root that it sees.
		for _, dir := range []string{filepath.Join(root, parts[2]), root} {
			text, err := os.ReadFile(filepath.Join(dir, file))
			limitB, notNumber := strconv.ParseInt(strings.TrimSpace(string(text)), 10, 64)
			if err == nil && notNumber == nil && limitB > 0 {
				least = min(least, limitB)
			}
		}
	}
	if least == littleB {
		return 0
	}
	return least
}
