package main

import (
	_ "github.com/airbusgeo/godal"
	_ "github.com/mattn/go-sqlite3"
	_ "github.com/urfave/cli/v2"
	_ "gonum.org/v1/plot"
)

func main() {}
