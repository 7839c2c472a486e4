package grade

// piece is the quadratic cost of one piece in its end heights u and v.
type piece struct {
	uu, uv, vv, u, v, c float64
	alone               float64 // least cost with both ends free
	perM                float64 // 1/length
}

func bare(lengthM float64) piece {
	pr := 1 / (lengthM * slopePrior * lengthM * slopePrior)
	return piece{uu: pr, uv: -pr, vv: pr, perM: 1 / lengthM}
}

func (k *skipper) data(a, b, n int, dx, inv float64) piece {
	ia, ib := int(k.knot[a]), int(k.knot[b])
	length := float64(ib-ia) * dx
	d := bare(length)
	if ib == n-1 {
		ib = n
	}
	p0, p1 := &k.pre[ia], &k.pre[ib]
	w := p1.w - p0.w
	if w <= 0 {
		return d
	}
	s0 := float64(ia) * dx / 1000
	perKM := 1000 / length
	s := p1.s - p0.s
	t1 := (s - s0*w) * perKM
	t2 := (p1.ss - p0.ss - 2*s0*s + s0*s0*w) * perKM * perKM
	y := p1.y - p0.y
	yt := (p1.ys - p0.ys - s0*y) * perKM
	yy := p1.yy - p0.yy
	d.uu += (w - 2*t1 + t2) * inv
	d.uv += (t1 - t2) * inv
	d.vv += t2 * inv
	d.u = -(y - yt) * inv
	d.v = -yt * inv
	d.c = yy * inv
	det := d.uu*d.vv - d.uv*d.uv
	if det > 0 {
		d.alone = max(0, d.c-(d.vv*d.u*d.u-2*d.uv*d.u*d.v+d.uu*d.v*d.v)/det)
	}
	return d
}

// join adds a piece to a cost to come (the least cost of all pieces before) and minimises over the
// shared height.
func (d *piece) join(q *quad, extra float64) quad {
	ua := d.uu + q.a
	ub := d.u + q.b/2
	g := 1 / ua
	r := quad{uv: d.uv, ub: ub, ua: ua}
	r.a = d.vv - d.uv*d.uv*g
	r.b = 2 * (d.v - d.uv*ub*g)
	r.c = q.c + d.c + extra - ub*ub*g
	if r.a < 1e-12 {
		r.a = 1e-12
	}
	r.at = -r.b / (2 * r.a)
	r.low = r.value(r.at)
	return r
}

// u is the height at the piece's start that goes with the best height at its end.
func (q *quad) u() float64 { return -(q.uv*q.at + q.ub) / q.ua }
