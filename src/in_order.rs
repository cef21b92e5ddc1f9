//! Work that uses all cores and gives its results in the order of its input: the same on one core as on many.

use std::panic::resume_unwind;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread::{Builder, available_parallelism, scope};

/// Of a thread, bytes: as much as the first thread of a process has on most systems.
const STACK: usize = 8 << 20;

/// What `work` gives for each item, in the order of the items. The calling thread takes its share, and calls `begun`
/// as often as it takes one.
///
/// `work` sees one item alone, so that its result cannot depend on which thread is quicker. A panic in it is one of
/// the caller's.
pub fn in_order<T: Sync, R: Send>(
    items: &[T],
    work: impl Fn(&T) -> R + Sync,
    mut begun: impl FnMut(),
) -> Vec<R> {
    let next = AtomicUsize::new(0);
    // Each thread takes the next item that is left, and keeps its place beside what it gives.
    let share = |begun: &mut dyn FnMut()| {
        let mut done = Vec::new();
        loop {
            let place = next.fetch_add(1, Ordering::Relaxed);
            let Some(item) = items.get(place) else {
                return done;
            };
            begun();
            done.push((place, work(item)));
        }
    };
    let cores = available_parallelism().map_or(1, usize::from);
    let more = cores.min(items.len()).saturating_sub(1);
    let mut done = scope(|scope| {
        let help = || share(&mut || ());
        // Where the system gives no further thread, those that are there do all the work.
        let helpers: Vec<_> = (0..more)
            .filter_map(|_| {
                Builder::new()
                    .stack_size(STACK)
                    .spawn_scoped(scope, help)
                    .ok()
            })
            .collect();
        let mut done = share(&mut begun);
        for helper in helpers {
            done.extend(helper.join().unwrap_or_else(|panic| resume_unwind(panic)));
        }
        done
    });
    done.sort_unstable_by_key(|&(place, _)| place);
    done.into_iter().map(|(_, result)| result).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_stand_in_the_order_of_the_items() {
        let items: Vec<u64> = (0..1_000).collect();
        // The first ones take longest, so that later ones are done before them.
        let work = |&n: &u64| (0..(1_000 - n) * 200).fold(n, |sum, k| sum ^ (k * n));
        let mut begun = 0;
        let found = in_order(&items, work, || begun += 1);
        assert_eq!(found, items.iter().map(work).collect::<Vec<_>>());
        assert!((1..=1_000).contains(&begun), "{begun}");
        assert!(in_order(&[], work, || ()).is_empty());
    }

    #[test]
    #[should_panic(expected = "item 7")]
    fn a_panic_in_any_item_is_not_lost() {
        let items: Vec<usize> = (0..64).collect();
        in_order(&items, |&n| assert_ne!(n, 7, "item 7"), || ());
    }
}
