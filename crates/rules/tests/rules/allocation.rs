//! Judging a member-hour takes nothing from the heap: an ensemble of ten days asks it thousands of times.

use crate::common::{Floors, WIND_AND_SEA, at, blowing, club, outing};
use rules::Judge;
use rules::numbers::HourNumbers;
use rules::windows::call_of_members;

#[test]
fn an_hour_of_all_members_allocates_nothing() {
    let limits = format!("{WIND_AND_SEA}\nwind_chill_c = {{ caution_at = 4, stop_at = 0 }}");
    for floors in [Floors::None, Floors::Default] {
        let club = club(floors, &limits);
        let outing = outing(&club);
        let judge = Judge::new(&outing);
        let hour = |member: u32| {
            HourNumbers::from(&blowing(
                at(12),
                10.0 + f64::from(member),
                14.0 + f64::from(member),
            ))
        };
        let hours: Vec<HourNumbers> = (0..51).map(hour).collect();
        let used = allocation_counter::measure(|| {
            std::hint::black_box(call_of_members(&judge, at(12), &hours, 30.0));
        });
        assert_eq!(used.count_total, 0, "{used:?}");
        // The counter counts: making the judge lays out the limits on the heap.
        let used = allocation_counter::measure(|| {
            std::hint::black_box(Judge::new(&outing).instants().len());
        });
        assert!(used.count_total > 0);
    }
}
