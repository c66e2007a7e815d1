//! From packed numbers to whole numbers: as they are (template 5.2), or as differences of the first or second order (5.3), of which
//! many equal ones can be taken at once.
//!
//! Must not know: groups, octets. Sums wrap: no whole field is that wide, and a damaged one has no right value.

/// From packed numbers to whole numbers, in order.
pub(super) trait Sums {
    /// Takes the next number and gives the whole number it stands for.
    fn next(&mut self, packed: i64) -> i64;
    /// Takes numbers that have all to be added to the same one.
    fn take(&mut self, reference: i64, packed: impl Iterator<Item = i64>);
    /// Takes so many equal numbers.
    fn skip_equal(&mut self, packed: i64, times: i64);
    /// Whether numbers need not be taken to know those after them.
    const FREE: bool;
}

/// Template 5.2.
pub(super) struct Plain;

impl Sums for Plain {
    const FREE: bool = true;
    #[inline]
    fn next(&mut self, packed: i64) -> i64 {
        packed
    }
    fn take(&mut self, _: i64, _: impl Iterator<Item = i64>) {}
    fn skip_equal(&mut self, _: i64, _: i64) {}
}

/// First-order differences.
pub(super) struct First {
    value: i64,
    least: i64,
    first: Option<i64>,
}

impl First {
    pub fn new(first: [i64; 2], least: i64) -> Self {
        Self {
            value: 0,
            least,
            first: Some(first[0]),
        }
    }
}

impl Sums for First {
    const FREE: bool = false;
    #[inline]
    fn next(&mut self, packed: i64) -> i64 {
        self.value = match self.first.take() {
            Some(first) => first,
            None => self.value.wrapping_add(packed.wrapping_add(self.least)),
        };
        self.value
    }
    #[inline]
    fn take(&mut self, reference: i64, mut packed: impl Iterator<Item = i64>) {
        if self.first.is_some()
            && let Some(packed) = packed.next()
        {
            self.next(packed.wrapping_add(reference));
        }
        let more = reference.wrapping_add(self.least);
        self.value = packed.fold(self.value, |value, packed| {
            value.wrapping_add(packed.wrapping_add(more))
        });
    }
    fn skip_equal(&mut self, packed: i64, mut times: i64) {
        if self.first.is_some() && times > 0 {
            self.next(packed);
            times -= 1;
        }
        let step = packed.wrapping_add(self.least);
        self.value = self.value.wrapping_add(step.wrapping_mul(times));
    }
}

/// Second-order differences.
pub(super) struct Second {
    value: i64,
    step: i64,
    least: i64,
    first: [i64; 2],
    taken: u8,
}

impl Second {
    pub fn new(first: [i64; 2], least: i64) -> Self {
        Self {
            value: 0,
            step: 0,
            least,
            first,
            taken: 0,
        }
    }
}

impl Sums for Second {
    const FREE: bool = false;
    #[inline]
    fn next(&mut self, packed: i64) -> i64 {
        if self.taken < 2 {
            let value = self.first[usize::from(self.taken)];
            self.step = value.wrapping_sub(self.value);
            self.value = value;
            self.taken += 1;
            return value;
        }
        self.step = self.step.wrapping_add(packed.wrapping_add(self.least));
        self.value = self.value.wrapping_add(self.step);
        self.value
    }
    #[inline]
    fn take(&mut self, reference: i64, mut packed: impl Iterator<Item = i64>) {
        while self.taken < 2
            && let Some(packed) = packed.next()
        {
            self.next(packed.wrapping_add(reference));
        }
        let more = reference.wrapping_add(self.least);
        (self.step, self.value) = packed.fold((self.step, self.value), |(step, value), packed| {
            let step = step.wrapping_add(packed.wrapping_add(more));
            (step, value.wrapping_add(step))
        });
    }
    fn skip_equal(&mut self, packed: i64, mut times: i64) {
        while self.taken < 2 && times > 0 {
            self.next(packed);
            times -= 1;
        }
        // The sum of an arithmetic series: n steps, each longer by d than the one before.
        let more = packed.wrapping_add(self.least);
        let series = times.wrapping_mul(times + 1) / 2;
        self.value = self
            .value
            .wrapping_add(self.step.wrapping_mul(times))
            .wrapping_add(more.wrapping_mul(series));
        self.step = self.step.wrapping_add(more.wrapping_mul(times));
    }
}
