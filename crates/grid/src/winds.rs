//! Vectors along a grid turned to true east and north (flag table 3.3, bit 5).
//!
//! Owns: which pairs are turned, and by how much. Must not know: which quantities make a pair.

use crate::GridDefinition;
use forecast::Sample;

impl GridDefinition {
    /// Degrees from true east to the grid's x at a node, counter-clockwise; none for what is no node.
    ///
    /// 0 on grids of parallels, the convergence of meridians on a cone, the turn of the pole on a turned sphere; whether
    /// vectors follow it is another question ([`Self::vectors_follow_grid`]).
    pub fn rotation_at(&self, column: u32, row: u32) -> Option<f64> {
        self.storage_index(column, row)?;
        Some(self.shape.rotation(column, row)).filter(|degrees| degrees.is_finite())
    }

    /// Components of a vector at a node towards true east and north, from those the message gives along x and y.
    ///
    /// Unchanged where the message gives true ones. Turned, each is made of both: where one has no value neither has.
    ///
    /// # Errors
    /// The gap of the component that has no value; [`forecast::Gap::OutsideGrid`] for what is no node.
    pub fn true_components(
        &self,
        (column, row): (u32, u32),
        along_x: Sample,
        along_y: Sample,
    ) -> [Sample; 2] {
        let Some(degrees) = self.rotation_at(column, row) else {
            return [Err(forecast::Gap::OutsideGrid); 2];
        };
        if !self.turns_vectors() {
            return [along_x, along_y];
        }
        match (along_x, along_y) {
            (Ok(x), Ok(y)) => {
                let (sin, cos) = degrees.to_radians().sin_cos();
                let (x, y) = (f64::from(x), f64::from(y));
                [Ok((x * cos - y * sin) as f32), Ok((x * sin + y * cos) as f32)]
            }
            (Err(gap), _) | (_, Err(gap)) => [Err(gap); 2],
        }
    }

    /// Whether u and v of a message are other than its values: they follow the grid, and the grid does not follow parallels.
    pub fn turns_vectors(&self) -> bool {
        use crate::shape::Shape;
        self.vectors_follow_grid() && matches!(self.shape, Shape::Turned { .. } | Shape::Conic(_))
    }
}
