//! Many rows of figures beside each other, so that one row is held against several at a time: a check of a large
//! instrument does so some ten million times, and processors take neighbours in one step.
//!
//! Each sum is made in the order in which it would be made alone, to the last digit. Must not know what the figures mean.

/// Rows that stand abreast.
pub(in crate::diagnosis) const ABREAST: usize = 8;

/// Rows of equal length, in ranks of [`ABREAST`]; the last rank is filled up with zeros.
pub(in crate::diagnosis) struct Abreast {
    /// For each rank the figures of its rows, column by column.
    figures: Vec<[f64; ABREAST]>,
    columns: usize,
    ranks: usize,
}

impl Abreast {
    pub(in crate::diagnosis) fn new(rows: &[Vec<f64>]) -> Abreast {
        let columns = rows.first().map_or(0, Vec::len);
        let ranks = rows.len().div_ceil(ABREAST);
        let mut figures = vec![[0.0; ABREAST]; ranks * columns];
        for (index, row) in rows.iter().enumerate() {
            let of_rank = &mut figures[index / ABREAST * columns..][..columns];
            for (abreast, figure) in of_rank.iter_mut().zip(row) {
                abreast[index % ABREAST] = *figure;
            }
        }
        Abreast { figures, columns, ranks }
    }

    pub(in crate::diagnosis) fn ranks(&self) -> usize {
        self.ranks
    }

    /// The columns of one rank.
    pub(in crate::diagnosis) fn of(&self, rank: usize) -> &[[f64; ABREAST]] {
        &self.figures[rank * self.columns..][..self.columns]
    }

    /// The inner products of `row` with each row of a rank.
    pub(in crate::diagnosis) fn products(&self, rank: usize, row: &[f64]) -> [f64; ABREAST] {
        let mut sums = [0.0; ABREAST];
        for (abreast, factor) in self.of(rank).iter().zip(row) {
            for (sum, figure) in sums.iter_mut().zip(abreast) {
                *sum += factor * figure;
            }
        }
        sums
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn products_are_those_of_single_rows_to_the_last_digit() {
        let figure = |row: usize, column: usize| ((row * 31 + column * 17) as f64).sin() * 10.0;
        let rows: Vec<Vec<f64>> =
            (0..2 * ABREAST + 3).map(|row| (0..23).map(|column| figure(row, column)).collect()).collect();
        let abreast = Abreast::new(&rows);
        assert_eq!(abreast.ranks(), 3);
        for (index, row) in rows.iter().enumerate() {
            let alone: f64 = row.iter().zip(&rows[1]).map(|(x, y)| x * y).sum();
            assert_eq!(abreast.products(index / ABREAST, &rows[1])[index % ABREAST], alone);
        }
    }
}
