//! The three passes over a code block's bit-planes (annex D of ISO/IEC 15444-1).
//!
//! A block is coded in stripes of four rows, column by column. For each column of a stripe one word holds all that its four samples' contexts
//! need: who is significant, and negative, among them, above and below them, and in the columns beside them. A sample that becomes
//! significant is written into the words of all its neighbours, which is seldom; contexts, which are needed often, are a shift and a look-up.
//!
//! Must not know: where a block lies, or which of its samples are wanted.

use super::arithmetic::{AFTER, Arithmetic, Contexts, Decisions, Plain};
use super::coding::Style;
use super::contexts::{AROUND, BESIDE, Kind, RUN, SIGN, TURNED, UNIFORM};

/// Rows of a stripe.
const STRIPE: usize = 4;
/// Word of a column: significance of three columns by six rows, row by row, in bits 0 to 17; their signs 32 bits further up. The same shift of
/// three bits a row leads to a sample's nine bits and to its marks.
const SIGNIFICANT: u64 = 0x3ffff;
const OWN: u64 = 1 << 4;
/// The sample was coded in this bit-plane; it was refined before.
const VISITED: u64 = 1 << 18;
const REFINED: u64 = 1 << 19;
const EVERY_ROW: u64 = 0o1111;
/// From significance to sign.
const SIGNS: u32 = 32;
/// Passes before arithmetic coding may be bypassed.
const CODED_PASSES: usize = 10;

/// A block's octets with the passes in them, a part for each packet and segment.
pub(super) struct Part<'a> {
    pub passes: usize,
    pub octets: &'a [u8],
}

/// A block to decode.
pub(super) struct Block {
    pub width: usize,
    pub height: usize,
    pub kind: Kind,
    /// Bit-planes that are coded.
    pub planes: u32,
    pub style: Style,
}

/// Which segment of octets a pass is in.
pub(super) fn segment_of(pass: usize, style: &Style) -> usize {
    if style.terminates {
        pass
    } else if style.bypass && pass >= CODED_PASSES {
        let after = pass - CODED_PASSES;
        1 + 2 * (after / 3) + usize::from(after % 3 == 2)
    } else {
        0
    }
}

/// Decodes blocks, one after another in the same memory.
#[derive(Default)]
pub(super) struct Passes {
    /// A word for each column of each stripe, with a column before and after, and a stripe above and below.
    words: Vec<u64>,
    /// Magnitudes of each column of each stripe, twice as large, with a one for the half below the last bit known; the sign uppermost.
    columns: Vec<[u32; STRIPE]>,
    octets: Vec<u8>,
}

/// Three stripes' words and one's magnitudes.
struct Stripe<'a> {
    above: &'a mut [u64],
    here: &'a mut [u64],
    below: &'a mut [u64],
    columns: &'a mut [[u32; STRIPE]],
    significance: &'static [u8; 512],
    causal: bool,
    plane: u32,
}

/// The words of three stripes, of one length.
struct Words<'a> {
    above: &'a mut [u64],
    here: &'a mut [u64],
    below: &'a mut [u64],
    significance: &'static [u8; 512],
    causal: bool,
    plane: u32,
}

impl Passes {
    /// Decodes a block into its coefficients, row by row.
    pub fn decode<'a>(&mut self, block: &Block, parts: impl Iterator<Item = Part<'a>>, found: &mut Vec<i32>) {
        let stripes = block.height.div_ceil(STRIPE);
        self.words.clear();
        self.words.resize((stripes + 2) * (block.width + 2), 0);
        self.columns.clear();
        self.columns.resize(stripes * block.width, [0; STRIPE]);
        let (mut pass, mut contexts) = (0, Contexts::new());
        let mut parts = parts.peekable();
        while parts.peek().is_some() {
            // All that a segment has, of however many packets.
            let (mut octets, segment) = (std::mem::take(&mut self.octets), segment_of(pass, &block.style));
            octets.clear();
            let mut ends = pass;
            while let Some(part) = parts.next_if(|_| segment_of(ends, &block.style) == segment) {
                octets.extend_from_slice(part.octets);
                ends += part.passes;
            }
            octets.extend(AFTER);
            contexts = self.segment(block, pass..ends, &octets, contexts);
            (self.octets, pass) = (octets, ends);
        }
        self.coefficients(block, found);
    }

    /// The passes of one segment.
    fn segment(
        &mut self,
        block: &Block,
        passes: std::ops::Range<usize>,
        octets: &[u8],
        contexts: Contexts,
    ) -> Contexts {
        let mut decoder = Arithmetic::new(octets, contexts);
        let mut plain = Plain::new(octets);
        let is_plain = block.style.bypass && passes.start >= CODED_PASSES;
        for pass in passes {
            // The first plane has a cleanup alone.
            let plane = block.planes.saturating_sub(1 + (pass as u32).div_ceil(3));
            match (pass % 3, is_plain) {
                (0, _) => self.cleanup(block, plane, &mut decoder),
                (1, false) => self.significance(block, plane, &mut decoder),
                (1, true) => self.significance(block, plane, &mut plain),
                (_, false) => self.refinement(block, plane, &mut decoder),
                (_, true) => self.refinement(block, plane, &mut plain),
            }
            if block.style.resets {
                decoder.contexts = Contexts::new();
            }
        }
        decoder.contexts
    }

    fn significance<D: Decisions + Clone>(&mut self, block: &Block, plane: u32, decisions: &mut D) {
        let mut local = decisions.clone();
        self.each_stripe(block, plane, |stripe, rows| match rows {
            1 => stripe.significance::<1, D>(&mut local),
            2 => stripe.significance::<2, D>(&mut local),
            3 => stripe.significance::<3, D>(&mut local),
            _ => stripe.significance::<4, D>(&mut local),
        });
        *decisions = local;
    }

    fn refinement<D: Decisions + Clone>(&mut self, block: &Block, plane: u32, decisions: &mut D) {
        let mut local = decisions.clone();
        self.each_stripe(block, plane, |stripe, rows| match rows {
            1 => stripe.refinement::<1, D>(&mut local),
            2 => stripe.refinement::<2, D>(&mut local),
            3 => stripe.refinement::<3, D>(&mut local),
            _ => stripe.refinement::<4, D>(&mut local),
        });
        *decisions = local;
    }

    fn cleanup(&mut self, block: &Block, plane: u32, decisions: &mut Arithmetic<'_>) {
        let mut local = decisions.clone();
        self.each_stripe(block, plane, |stripe, rows| match rows {
            1 => stripe.cleanup::<1>(&mut local),
            2 => stripe.cleanup::<2>(&mut local),
            3 => stripe.cleanup::<3>(&mut local),
            _ => stripe.cleanup::<4>(&mut local),
        });
        if block.style.marks_segments {
            // Four decisions that tell of errors; others' decoders do not look at them either.
            for _ in 0..4 {
                local.decide(UNIFORM);
            }
        }
        *decisions = local;
    }

    /// Each stripe with how many rows of it there are.
    #[inline(always)]
    fn each_stripe(&mut self, block: &Block, plane: u32, mut pass: impl FnMut(&mut Stripe<'_>, usize)) {
        let (width, stride) = (block.width, block.width + 2);
        for (number, columns) in self.columns.chunks_exact_mut(width).enumerate() {
            let (above, rest) = self.words[number * stride..].split_at_mut(stride);
            let (here, rest) = rest.split_at_mut(stride);
            let mut stripe = Stripe {
                above,
                here,
                below: &mut rest[..stride],
                columns,
                significance: block.kind.significance(),
                causal: block.style.causal,
                plane,
            };
            pass(&mut stripe, (block.height - number * STRIPE).min(STRIPE));
        }
    }

    fn coefficients(&self, block: &Block, found: &mut Vec<i32>) {
        for row in 0..block.height {
            let columns = &self.columns[row / STRIPE * block.width..][..block.width];
            found.extend(columns.iter().map(|column| {
                let twice = column[row % STRIPE];
                let magnitude = ((twice & 0x7fff_ffff) >> 1) as i32;
                if twice >> 31 == 0 { magnitude } else { -magnitude }
            }));
        }
    }
}

#[expect(
    clippy::needless_range_loop,
    reason = "a loop over four rows is laid out in a line; as an iterator it is not, and costs a tenth of the speed"
)]
impl Stripe<'_> {
    #[inline(always)]
    fn significance<const ROWS: usize, D: Decisions>(&mut self, decisions: &mut D) {
        let (mut words, columns) = self.parts();
        for (at, column) in columns.iter_mut().enumerate() {
            let mut word = words.here[at + 1];
            if word & SIGNIFICANT == 0 {
                continue;
            }
            for row in 0..ROWS {
                let nine = word >> (3 * row);
                if nine & OWN != 0 || nine & AROUND == 0 {
                    continue;
                }
                let context = words.significance[(nine & AROUND) as usize];
                if decisions.decide(context.into()) {
                    word |= words.becomes_significant(&mut column[row], (at, row), nine, decisions);
                }
                word |= VISITED << (3 * row);
            }
            words.here[at + 1] = word;
        }
    }

    #[inline(always)]
    fn refinement<const ROWS: usize, D: Decisions>(&mut self, decisions: &mut D) {
        let plane = self.plane;
        let (words, columns) = self.parts();
        for (word, column) in words.here[1..].iter_mut().zip(columns) {
            if *word & (OWN * EVERY_ROW) & !(*word >> 14) == 0 {
                continue;
            }
            for row in 0..ROWS {
                let nine = *word >> (3 * row);
                if nine & (OWN | VISITED) != OWN {
                    continue;
                }
                let context = match nine & REFINED {
                    0 => 14 + usize::from(nine & AROUND != 0),
                    _ => 16,
                };
                let bit = u32::from(decisions.decide(context));
                // The half of before becomes this bit, and the half below it a one.
                column[row] = (column[row] ^ ((1 - bit) << (plane + 1))) | (1 << plane);
                *word |= REFINED << (3 * row);
            }
        }
    }

    #[inline(always)]
    fn cleanup<const ROWS: usize>(&mut self, decisions: &mut Arithmetic<'_>) {
        let (mut words, columns) = self.parts();
        for (at, column) in columns.iter_mut().enumerate() {
            let mut word = words.here[at + 1];
            let mut first = 0;
            if ROWS == STRIPE && word & (SIGNIFICANT | (VISITED * EVERY_ROW)) == 0 {
                if !decisions.decide(RUN) {
                    continue;
                }
                let upper = usize::from(decisions.decide(UNIFORM));
                first = 2 * upper + usize::from(decisions.decide(UNIFORM));
                let nine = word >> (3 * first);
                word |= words.becomes_significant(&mut column[first], (at, first), nine, decisions);
                first += 1;
            }
            for row in 0..ROWS {
                let nine = word >> (3 * row);
                if row < first || nine & (OWN | VISITED) != 0 {
                    continue;
                }
                let context = words.significance[(nine & AROUND) as usize];
                if decisions.decide(context.into()) {
                    word |= words.becomes_significant(&mut column[row], (at, row), nine, decisions);
                }
            }
            words.here[at + 1] = word & !(VISITED * EVERY_ROW);
        }
    }

    /// The words, as many as there are columns and two, and the columns.
    #[inline(always)]
    fn parts(&mut self) -> (Words<'_>, &mut [[u32; STRIPE]]) {
        let count = self.columns.len() + 2;
        let words = Words {
            above: &mut self.above[..count],
            here: &mut self.here[..count],
            below: &mut self.below[..count],
            significance: self.significance,
            causal: self.causal,
            plane: self.plane,
        };
        (words, self.columns)
    }
}

impl Words<'_> {
    /// Reads the sign of a sample that becomes significant and tells its neighbours; what its own column is to be told, it gives.
    #[inline(always)]
    fn becomes_significant<D: Decisions>(
        &mut self,
        magnitude: &mut u32,
        (at, row): (usize, usize),
        nine: u64,
        decisions: &mut D,
    ) -> u64 {
        let index = (nine & BESIDE) | ((nine >> SIGNS) & BESIDE) >> 1;
        let context = SIGN[index as usize];
        let is_negative = decisions.sign((context & !TURNED).into(), context & TURNED != 0);
        *magnitude = (3 << self.plane) | u32::from(is_negative) << 31;
        let told = 1 | u64::from(is_negative) << SIGNS;
        // Of the column to the left it is the right neighbour, and so on.
        self.here[at] |= told << (3 * row + 5);
        self.here[at + 2] |= told << (3 * row + 3);
        let tell = |words: &mut [u64], row: usize| {
            words[at] |= told << (3 * row + 2);
            words[at + 1] |= told << (3 * row + 1);
            words[at + 2] |= told << (3 * row);
        };
        if row == 0 && !self.causal {
            tell(self.above, STRIPE + 1);
        }
        if row == STRIPE - 1 {
            tell(self.below, 0);
        }
        told << (3 * row + 4)
    }
}
