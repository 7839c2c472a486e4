# terra's way for points, bilinear.
# extract.R RASTER POINTS OUT
suppressPackageStartupMessages(library(terra))
a <- commandArgs(trailingOnly = TRUE)
p <- matrix(readBin(a[2], "double", file.size(a[2]) / 8), ncol = 2, byrow = TRUE)
r <- rast(a[1])
if (!is.lonlat(r)) p <- crds(project(vect(p, crs = "EPSG:4326"), crs(r)))
v <- extract(r, p, method = "bilinear")[, 1]
writeBin(as.double(v), a[3])
