package main

import "C" // littlememory_linux.c
