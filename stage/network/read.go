package network

// A cell's outputs are evaluated four at a time, in the lanes of a vector: their coefficients
// stand by group of four outputs, then by power of the second port, then by power of the
// first, then by output, with nothing where the last group is short. Of each row of powers of
// the first port the even ones and the odd ones are summed apart, by Horner's rule in
// the square, and the rows by Horner's rule in the second port. Products are rounded before
// they are added, so that every processor arrives at the same bits.

const (
	lanes    = 4
	groupRow = lanes * alongFirst // coefficients of a row of a group
)

// groups returns how many groups outputs stand in.
func groups(outputs int) int { return (outputs + lanes - 1) / lanes }

// place returns where a coefficient of an output stands among those of all, the first by row.
func place(output, rows, row, power int) int {
	return ((output/lanes*rows+row)*alongFirst+power)*lanes + output%lanes
}

// read evaluates the outputs at a point of a cell that has polynomials.
func (c *cell) read(out []float64, z [maximumPorts]float64) {
	x, y := (z[0]-c.middle[0])*c.per[0], (z[1]-c.middle[1])*c.per[1]
	if !readVectors(out, c.polynomials, c.rows, x, y) {
		readPlain(out, c.polynomials, c.rows, x, y)
	}
}

// readPlain evaluates at x and y, from -1 to 1, polynomials with a number of rows.
func readPlain(out, p []float64, rows int, x, y float64) {
	x2 := float64(x * x)
	for i := range out {
		group := p[i/lanes*rows*groupRow:][:rows*groupRow]
		lane := i % lanes
		sum := 0.0
		for n := len(group) - groupRow; n >= 0; n -= groupRow {
			q := (*[groupRow]float64)(group[n:])
			even := q[lane] + float64(x2*(q[2*lanes+lane]+float64(x2*(q[4*lanes+lane]+float64(x2*q[6*lanes+lane])))))
			odd := q[lanes+lane] + float64(x2*(q[3*lanes+lane]+float64(x2*(q[5*lanes+lane]+float64(x2*q[7*lanes+lane])))))
			row := even + float64(x*odd)
			if n == len(group)-groupRow {
				sum = row
			} else {
				sum = float64(sum*y) + row
			}
		}
		out[i] = sum
	}
}
