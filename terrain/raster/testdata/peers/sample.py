# rasterio's own way for points, the nearest cell.
# sample.py RASTER POINTS OUT
import sys
import numpy as np
import rasterio
from rasterio.warp import transform

path, points, out = sys.argv[1:4]
lon, lat = np.fromfile(points).reshape(-1, 2).T
with rasterio.open(path) as ds:
    x, y = lon, lat
    if ds.crs.is_projected:
        x, y = transform("EPSG:4326", ds.crs, lon, lat)
    v = np.fromiter((z[0] for z in ds.sample(zip(x, y))), float, len(lon))
v.tofile(out)
