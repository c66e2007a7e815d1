//! Where the so-manyth one bit of sixty-four stands, in a few operations of whole words: no instruction beyond the plainest x86-64's is needed.

/// Where the so-manyth one of a window stands, from its most significant bit; there are as many.
#[inline]
pub(super) fn place_of_one(window: u64, which: u32) -> u32 {
    const LOW: u64 = 0x0101_0101_0101_0101;
    const HIGH: u64 = 0x8080_8080_8080_8080;
    // Ones of each octet, the first octet the least significant; then of it and those before.
    let octets = window.swap_bytes();
    let twos = octets - ((octets >> 1) & 0x5555_5555_5555_5555);
    let fours = (twos & 0x3333_3333_3333_3333) + ((twos >> 2) & 0x3333_3333_3333_3333);
    let ones = (fours + (fours >> 4)) & 0x0f0f_0f0f_0f0f_0f0f;
    let sums = ones.wrapping_mul(LOW);
    // An octet's high bit stays where the sum is not below the number sought.
    let reached = ((sums | HIGH) - u64::from(which) * LOW) & HIGH;
    let octet = reached.trailing_zeros() / 8;
    let before = ((sums << 8) >> (8 * octet)) as u32 & 0xff;
    let mut bits = (window << (8 * octet)) >> 56;
    for _ in 1..which - before {
        bits &= !(1 << (63 - bits.leading_zeros()));
    }
    8 * octet + bits.leading_zeros() - 56
}

#[cfg(test)]
mod tests {
    use super::place_of_one;

    // By definition, against one bit at a time.
    #[test]
    fn a_one_is_found_where_it_stands() {
        let mut window = 0x9e37_79b9_7f4a_7c15_u64;
        for round in 0..2000 {
            window = window.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(round);
            for shown in [
                window,
                window & (window << 7),
                window | (window >> 3),
                u64::MAX,
                1,
                1 << 63,
            ] {
                let mut which = 0;
                for place in 0..64 {
                    if shown & (1 << (63 - place)) != 0 {
                        which += 1;
                        assert_eq!(place_of_one(shown, which), place, "{shown:x} {which}");
                    }
                }
            }
        }
    }
}
