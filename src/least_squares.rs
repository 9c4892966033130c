//! Small linear least squares, within a box: no suspension word in it.
//!
//! Up to [`MOST_UNKNOWNS`] unknowns, any number of equations, of any rank. Among all least-squares solutions the one of
//! least length is taken, so that an unknown that does nothing stays at zero and equations that contradict each other
//! share what is left over.

/// The most unknowns that a problem may have.
pub const MOST_UNKNOWNS: usize = 12;
/// A singular value below this share of the largest counts as zero. Round-off leaves 1e-16 of it, and the matrices that
/// come here are good to 1e-12.
const RANK: f64 = 1e-10;
/// Rotations that turn two columns by less than this share change nothing any more.
const SQUARE: f64 = 1e-15;
/// Sweeps of rotations; six are usual.
const MOST_SWEEPS: usize = 40;
/// Weight of the unknowns' own length while the bounds that hold are found, as a share of the largest singular value:
/// it makes the answer unique, and is taken out again once the bounds are known.
const NUDGE: f64 = 1e-6;

/// A vector of unknowns; those beyond a problem's own are zero.
pub type Unknowns = [f64; MOST_UNKNOWNS];

/// Equations in a few unknowns: a matrix by columns.
#[derive(Clone, Debug)]
pub struct Equations {
    equations: usize,
    columns: Vec<f64>,
}

impl Equations {
    /// So many equations in so many unknowns, all coefficients zero.
    ///
    /// # Panics
    /// If there are more than [`MOST_UNKNOWNS`] unknowns.
    pub fn new(equations: usize, unknowns: usize) -> Self {
        assert!(unknowns <= MOST_UNKNOWNS, "at most {MOST_UNKNOWNS} unknowns");
        Self {
            equations,
            columns: vec![0.0; equations * unknowns],
        }
    }

    /// Set the coefficient of one unknown in one equation.
    pub fn set(&mut self, equation: usize, unknown: usize, coefficient: f64) {
        self.columns[unknown * self.equations + equation] = coefficient;
    }

    /// Add to the coefficient of one unknown in one equation.
    pub fn add(&mut self, equation: usize, unknown: usize, coefficient: f64) {
        self.columns[unknown * self.equations + equation] += coefficient;
    }

    /// How many unknowns there are.
    pub fn unknowns(&self) -> usize {
        self.columns.len().checked_div(self.equations).unwrap_or(0)
    }

    /// The coefficients of one unknown.
    pub fn column(&self, unknown: usize) -> &[f64] {
        &self.columns[unknown * self.equations..][..self.equations]
    }

    /// The left sides at these values of the unknowns.
    pub fn times(&self, at: &Unknowns) -> Vec<f64> {
        let mut sums = vec![0.0; self.equations];
        for (unknown, value) in at.iter().enumerate().take(self.unknowns()) {
            for (sum, coefficient) in sums.iter_mut().zip(self.column(unknown)) {
                *sum += coefficient * value;
            }
        }
        sums
    }

    /// The least-squares solution of least length in those unknowns that are free; the others keep what `at` says.
    fn solve_free(&self, right: &[f64], at: &Unknowns, free: &[bool; MOST_UNKNOWNS]) -> Unknowns {
        let mut rest = right.to_vec();
        let mut chosen = Vec::with_capacity(MOST_UNKNOWNS);
        for unknown in 0..self.unknowns() {
            if free[unknown] {
                chosen.push(unknown);
            } else {
                for (rest, coefficient) in rest.iter_mut().zip(self.column(unknown)) {
                    *rest -= coefficient * at[unknown];
                }
            }
        }
        let mut turned: Vec<f64> = chosen
            .iter()
            .flat_map(|&unknown| self.column(unknown).iter().copied())
            .collect();
        let turns = orthogonalise(&mut turned, self.equations, chosen.len());
        let lengths: Vec<f64> = (0..chosen.len())
            .map(|k| dot(part(&turned, k, self.equations), part(&turned, k, self.equations)).sqrt())
            .collect();
        let least = RANK * lengths.iter().fold(0.0, |most: f64, &length| most.max(length));
        let mut found = *at;
        for &unknown in &chosen {
            found[unknown] = 0.0;
        }
        for (k, &length) in lengths.iter().enumerate() {
            if length > least {
                let share = dot(part(&turned, k, self.equations), &rest) / (length * length);
                for (&unknown, turn) in chosen.iter().zip(&turns[k]) {
                    found[unknown] += share * turn;
                }
            }
        }
        found
    }

    /// The least-squares solution within a box, of least length among all such.
    ///
    /// `start` must lie within the box. Each side of the box may be infinite.
    pub fn solve_within(&self, right: &[f64], least: &Unknowns, most: &Unknowns, start: &Unknowns) -> Unknowns {
        let unknowns = self.unknowns();
        let inside = |at: &Unknowns| (0..unknowns).all(|k| least[k] <= at[k] && at[k] <= most[k]);
        let plain = self.solve_free(right, start, &[true; MOST_UNKNOWNS]);
        if inside(&plain) {
            return plain;
        }
        let (nudged, mut free) = self.nudged().bounded(&self.with_zeros(right), least, most, start);
        // The bounds that hold are known, but for those that the nudge kept short of: the answer between them without
        // it.
        let mut held = nudged;
        for _ in 0..unknowns {
            let exact = self.solve_free(right, &held, &free);
            let Some(out) = (0..unknowns).find(|&k| free[k] && !(least[k] <= exact[k] && exact[k] <= most[k])) else {
                let better = self.miss(right, &exact) <= self.miss(right, &nudged);
                return if better { exact } else { nudged };
            };
            held[out] = if exact[out] < least[out] { least[out] } else { most[out] };
            free[out] = false;
        }
        let better = self.miss(right, &held) <= self.miss(right, &nudged);
        if better { held } else { nudged }
    }

    /// Sum of squares of what the left sides miss.
    fn miss(&self, right: &[f64], at: &Unknowns) -> f64 {
        let left = self.times(at);
        right
            .iter()
            .zip(&left)
            .map(|(right, left)| (right - left) * (right - left))
            .sum()
    }

    /// The sign of the determinant of as many equations as unknowns: by elimination with the largest pivot of each
    /// column.
    pub fn determinant_sign(&self) -> i8 {
        let n = self.unknowns();
        let mut rows = self.columns.clone();
        let mut sign = 1;
        for column in 0..n {
            let at = |rows: &[f64], row: usize, column: usize| rows[column * n + row];
            let Some(pivot) =
                (column..n).max_by(|&a, &b| at(&rows, a, column).abs().total_cmp(&at(&rows, b, column).abs()))
            else {
                return sign;
            };
            if pivot != column {
                sign = -sign;
                for other in 0..n {
                    rows.swap(other * n + pivot, other * n + column);
                }
            }
            let head = at(&rows, column, column);
            if head == 0.0 {
                return 0;
            }
            if head < 0.0 {
                sign = -sign;
            }
            for row in column + 1..n {
                let share = at(&rows, row, column) / head;
                for other in column..n {
                    rows[other * n + row] -= share * rows[other * n + column];
                }
            }
        }
        sign
    }

    /// These equations, and one more for each unknown that asks for little of it.
    fn nudged(&self) -> Self {
        let unknowns = self.unknowns();
        let scale = (0..unknowns)
            .map(|k| dot(self.column(k), self.column(k)).sqrt())
            .fold(f64::MIN_POSITIVE, f64::max);
        let mut more = Self::new(self.equations + unknowns, unknowns);
        for unknown in 0..unknowns {
            for (equation, &coefficient) in self.column(unknown).iter().enumerate() {
                more.set(equation, unknown, coefficient);
            }
            more.set(self.equations + unknown, unknown, NUDGE * scale);
        }
        more
    }

    fn with_zeros(&self, right: &[f64]) -> Vec<f64> {
        let mut longer = right.to_vec();
        longer.resize(self.equations + self.unknowns(), 0.0);
        longer
    }

    /// The answer within a box of equations of full rank, and which unknowns no bound holds: bounds are taken hold of
    /// where a step runs into them, and let go where the answer wants away from them, until neither happens (Lawson and
    /// Hanson, Solving Least Squares Problems, 1974, chapter 23, with bounds on both sides).
    fn bounded(
        &self,
        right: &[f64],
        least: &Unknowns,
        most: &Unknowns,
        start: &Unknowns,
    ) -> (Unknowns, [bool; MOST_UNKNOWNS]) {
        let unknowns = self.unknowns();
        let mut free = [false; MOST_UNKNOWNS];
        for (k, free) in free.iter_mut().enumerate().take(unknowns) {
            *free = least[k] < start[k] && start[k] < most[k];
        }
        let mut at = *start;
        for _ in 0..8 * MOST_UNKNOWNS {
            let wanted = self.solve_free(right, &at, &free);
            // As far towards it as the box allows.
            let mut share = 1.0;
            let mut blocking = None;
            for k in (0..unknowns).filter(|&k| free[k]) {
                let bound = if wanted[k] < least[k] {
                    least[k]
                } else if wanted[k] > most[k] {
                    most[k]
                } else {
                    continue;
                };
                let reach = (bound - at[k]) / (wanted[k] - at[k]);
                if reach < share {
                    share = reach;
                    blocking = Some((k, bound));
                }
            }
            for k in (0..unknowns).filter(|&k| free[k]) {
                at[k] += share * (wanted[k] - at[k]);
            }
            if let Some((k, bound)) = blocking {
                at[k] = bound;
                free[k] = false;
                continue;
            }
            let left = self.times(&at);
            let rest: Vec<f64> = right.iter().zip(&left).map(|(right, left)| right - left).collect();
            let size = dot(&rest, &rest).sqrt();
            let pulled = (0..unknowns)
                .filter(|&k| !free[k] && least[k] < most[k])
                .map(|k| {
                    let column = self.column(k);
                    let pull = dot(column, &rest);
                    let inward = if at[k] <= least[k] { pull } else { -pull };
                    (k, inward / dot(column, column).sqrt().max(f64::MIN_POSITIVE))
                })
                .max_by(|a, b| a.1.total_cmp(&b.1));
            match pulled {
                Some((k, pull)) if pull > SQUARE * size.max(f64::MIN_POSITIVE) => free[k] = true,
                _ => break,
            }
        }
        (at, free)
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn part(columns: &[f64], k: usize, length: usize) -> &[f64] {
    &columns[k * length..][..length]
}

/// Turn the columns of a matrix among themselves until they are square to each other, and give what each new column is
/// made of: one-sided rotations (Hestenes 1958; Golub and Van Loan, Matrix Computations, 4th edition, section 8.6.3).
fn orthogonalise(columns: &mut [f64], length: usize, count: usize) -> Vec<Unknowns> {
    let mut turns = vec![[0.0; MOST_UNKNOWNS]; count];
    for (k, turn) in turns.iter_mut().enumerate() {
        turn[k] = 1.0;
    }
    for _ in 0..MOST_SWEEPS {
        let mut turned = false;
        for a in 0..count {
            for b in a + 1..count {
                let (first, second) = (part(columns, a, length), part(columns, b, length));
                let (aa, bb, ab) = (dot(first, first), dot(second, second), dot(first, second));
                if !(ab.abs() > SQUARE * (aa * bb).sqrt()) {
                    continue;
                }
                turned = true;
                let zeta = (bb - aa) / (2.0 * ab);
                let tangent = 1.0_f64.copysign(zeta) / (zeta.abs() + (1.0 + zeta * zeta).sqrt());
                let cosine = 1.0 / (1.0 + tangent * tangent).sqrt();
                let sine = cosine * tangent;
                let rotate = |x: f64, y: f64| (cosine * x - sine * y, sine * x + cosine * y);
                for row in 0..length {
                    let (x, y) = rotate(columns[a * length + row], columns[b * length + row]);
                    columns[a * length + row] = x;
                    columns[b * length + row] = y;
                }
                let (before, after) = turns.split_at_mut(b);
                for (x, y) in before[a].iter_mut().zip(&mut after[0]) {
                    (*x, *y) = rotate(*x, *y);
                }
            }
        }
        if !turned {
            break;
        }
    }
    turns
}
