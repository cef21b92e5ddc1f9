//! The bounded knapsack: which pieces make the most of one row. Whole numbers throughout.

/// Pieces of one length, as a row sees them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Goods<T> {
    /// What the caller knows them by.
    pub of: T,
    /// What one of them takes of the row, in micrometres with its gap; at least 1.
    pub size: u64,
    /// What one of them is worth.
    pub price: u64,
    /// How many there are.
    pub count: u64,
}

/// The best row that was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Packed<T> {
    /// (which goods, how many), in the order in which they were given.
    pub take: Vec<(T, u64)>,
    /// What they are worth together.
    pub value: u64,
    /// No row is worth more than this; equal to `value` where the search went to its end.
    pub ceiling: u64,
}

/// Greatest size and price: their product then fits 64 bits.
pub(super) const MOST: u64 = 1 << 30;

/// Fills a row of `room` with goods of the greatest worth: depth-first branch and bound in order of
/// worth per length, with the bound of Dantzig (1957) that cuts the first piece too many. `effort` is
/// how many steps are left and is used up; when it runs out the best row so far comes back with a
/// ceiling that still holds.
pub(super) fn best_row<T: Copy>(goods: &[Goods<T>], room: u64, effort: &mut u64) -> Packed<T> {
    // Indices in `order` are those of `goods`, indices on the stack those of `sorted`, from here to the
    // end: none can fail.
    let mut order: Vec<usize> = (0..goods.len())
        .filter(|&i| goods[i].count > 0 && goods[i].price > 0 && goods[i].size <= room)
        .collect();
    // Worth per length, greatest first; then the longer piece, then the earlier one.
    order.sort_by(|&i, &j| {
        let (a, b) = (goods[i], goods[j]);
        (b.price * a.size)
            .cmp(&(a.price * b.size))
            .then(b.size.cmp(&a.size))
            .then(i.cmp(&j))
    });
    let sorted: Vec<Goods<T>> = order.iter().map(|&i| goods[i]).collect();
    // The shortest piece from here on: with less room than that nothing more goes in.
    let mut shortest = vec![u64::MAX; sorted.len() + 1];
    for (j, g) in sorted.iter().enumerate().rev() {
        shortest[j] = shortest[j + 1].min(g.size);
    }

    let ceiling = dantzig(&sorted, room);
    let mut best = 0;
    let mut best_stack: Vec<(usize, u64)> = Vec::new();
    let mut stack: Vec<(usize, u64)> = Vec::new();
    let (mut next, mut left, mut value) = (0, room, 0);
    let mut finished = true;
    loop {
        if value + dantzig(&sorted[next..], left) > best {
            for (j, g) in sorted.iter().enumerate().skip(next) {
                *effort = effort.saturating_sub(1);
                if left < shortest[j] || value + left * g.price / g.size <= best {
                    break;
                }
                let n = g.count.min(left / g.size);
                if n > 0 {
                    stack.push((j, n));
                    left -= n * g.size;
                    value += n * g.price;
                }
            }
            if value > best {
                best = value;
                best_stack.clone_from(&stack);
                if best == ceiling {
                    break;
                }
            }
        }
        let Some((j, n)) = stack.pop() else { break };
        if *effort == 0 {
            finished = false;
            break;
        }
        left += sorted[j].size;
        value -= sorted[j].price;
        if n > 1 {
            stack.push((j, n - 1));
        }
        next = j + 1;
    }
    let mut take: Vec<(usize, u64)> = best_stack.iter().map(|&(j, n)| (order[j], n)).collect();
    take.sort_unstable();
    Packed {
        take: take.into_iter().map(|(i, n)| (goods[i].of, n)).collect(),
        value: best,
        ceiling: if finished { best } else { ceiling },
    }
}

/// Whole goods in the given order, then a part of the one that no longer fits, rounded down.
fn dantzig<T>(sorted: &[Goods<T>], room: u64) -> u64 {
    let (mut left, mut value) = (room, 0);
    for g in sorted {
        if g.size.saturating_mul(g.count) > left {
            return value + left * g.price / g.size;
        }
        left -= g.size * g.count;
        value += g.price * g.count;
    }
    value
}

#[cfg(test)]
mod tests {
    use super::*;

    /// All rows there are, one by one.
    fn by_hand(goods: &[Goods<usize>], room: u64) -> u64 {
        let Some((g, rest)) = goods.split_first() else {
            return 0;
        };
        (0..=g.count.min(room / g.size))
            .map(|n| n * g.price + by_hand(rest, room - n * g.size))
            .max()
            .unwrap_or(0)
    }

    #[test]
    fn agrees_with_trying_every_row() {
        let mut seed = 7_u64;
        let mut draw = |n: u64| {
            seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (seed >> 33) % n
        };
        for round in 0..2000 {
            let goods: Vec<Goods<usize>> = (0..1 + draw(6) as usize)
                .map(|of| Goods {
                    of,
                    size: 1 + draw(40),
                    price: draw(50),
                    count: draw(4),
                })
                .collect();
            let room = draw(160);
            let got = best_row(&goods, room, &mut 1_000_000);
            let want = by_hand(&goods, room);
            assert_eq!(got.value, want, "round {round}: {goods:?} in {room}");
            assert_eq!(
                got.ceiling, want,
                "round {round}: the search went to its end"
            );
            let size: u64 = got.take.iter().map(|&(i, n)| n * goods[i].size).sum();
            let value: u64 = got.take.iter().map(|&(i, n)| n * goods[i].price).sum();
            assert!(
                size <= room && value == got.value,
                "round {round}: what is taken adds up"
            );
            assert!(
                got.take.iter().all(|&(i, n)| n <= goods[i].count),
                "round {round}: counts"
            );
            let hasty = best_row(&goods, room, &mut 1);
            assert!(
                hasty.value <= want && want <= hasty.ceiling,
                "round {round}: cut short"
            );
        }
    }
}
