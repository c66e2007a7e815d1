//! Answers that are computed: the same question is computed once for all who ask it meanwhile, and few at a time.
//!
//! Owns: that guard. Must not know: what is asked. Nothing is kept once it is answered: caches on the way do that.

use std::collections::HashMap;
use std::hash::Hash;
use std::sync::{Arc, Mutex, PoisonError, Weak};
use tokio::sync::{OnceCell, Semaphore};

/// Computations at once: a small machine has two cores, and advisories are issued on them too.
const AT_ONCE: usize = 2;

/// An answer to come.
type Flight<V> = OnceCell<Arc<V>>;

/// Questions under way.
pub(crate) struct Flights<K, V> {
    under_way: Mutex<HashMap<K, Weak<Flight<V>>>>,
    room: Semaphore,
}

impl<K, V> Default for Flights<K, V> {
    fn default() -> Self {
        Self {
            under_way: Mutex::default(),
            room: Semaphore::new(AT_ONCE),
        }
    }
}

impl<K: Eq + Hash, V> Flights<K, V> {
    /// The answer: of the question under way if there is one, otherwise by computing it. One that fails, or whose asker
    /// leaves, is computed by the next who waits.
    ///
    /// # Errors
    /// What the computation gives.
    pub(crate) async fn answer<E>(
        &self,
        question: K,
        compute: impl Future<Output = Result<V, E>>,
    ) -> Result<Arc<V>, E> {
        let flight = self.join(question);
        let computed = flight.get_or_try_init(|| async {
            let _room = self.room.acquire().await;
            compute.await.map(Arc::new)
        });
        computed.await.cloned()
    }

    fn join(&self, question: K) -> Arc<Flight<V>> {
        let mut under_way = self.under_way.lock().unwrap_or_else(PoisonError::into_inner);
        under_way.retain(|_, flight| flight.strong_count() > 0);
        if let Some(flight) = under_way.get(&question).and_then(Weak::upgrade) {
            return flight;
        }
        let flight = Arc::default();
        under_way.insert(question, Arc::downgrade(&flight));
        flight
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicU32, Ordering};

    // No source: the project's own promise.
    #[tokio::test]
    async fn equal_questions_at_once_are_computed_once_and_later_ones_anew() {
        let (flights, computed) = (Flights::<u8, u32>::default(), AtomicU32::new(0));
        let compute = || async {
            tokio::task::yield_now().await;
            Ok::<_, ()>(computed.fetch_add(1, Ordering::SeqCst))
        };
        let (first, second, other) = tokio::join!(
            flights.answer(1, compute()),
            flights.answer(1, compute()),
            flights.answer(2, compute()),
        );
        assert_eq!(first, second);
        assert_ne!(first, other);
        assert_eq!(computed.load(Ordering::SeqCst), 2);
        assert_eq!(flights.answer(1, compute()).await, Ok(Arc::new(2)));
    }

    #[tokio::test]
    async fn what_failed_is_computed_by_the_next_who_waits() {
        let flights = Flights::<u8, u32>::default();
        let (first, second) = tokio::join!(
            flights.answer(1, async {
                tokio::task::yield_now().await;
                Err("failed")
            }),
            flights.answer(1, async { Ok::<_, &str>(7) }),
        );
        assert_eq!((first, second), (Err("failed"), Ok(Arc::new(7))));
    }
}
