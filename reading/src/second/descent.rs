//! Learning by stochastic gradient descent, each weight at its own pace (Duchi, Hazan and Singer, "Adaptive Subgradient Methods", JMLR 12,
//! 2011).

/// Shows each of so many examples once a round, in another order each time. The weights that come of it are averages over the last rounds:
/// what the last few examples did to one evens out.
pub(super) fn averaged<L>(
    learner: &mut L,
    examples: usize,
    mut show: impl FnMut(&mut L, usize),
    weights: impl Fn(&L) -> &[f32],
) -> Vec<f32> {
    let mut sums = vec![0.0; weights(learner).len()];
    for round in 0..ROUNDS {
        for step in 0..examples {
            // A stride prime to most numbers of examples.
            show(learner, (step * STRIDES[round % STRIDES.len()]) % examples);
        }
        if round >= SETTLED {
            sums.iter_mut().zip(weights(learner)).for_each(|(sum, weight)| *sum += weight);
        }
    }
    sums.into_iter().map(|sum: f32| sum / (ROUNDS - SETTLED) as f32).collect()
}

/// One step down the slope; `squares` are those of all slopes so far.
pub(super) fn step(weight: &mut f32, squares: &mut f32, slope: f32, rate: f32) {
    *squares += slope * slope;
    *weight -= rate * slope / squares.sqrt();
}

const ROUNDS: usize = 40;
/// From this round on weights count.
const SETTLED: usize = 20;
const STRIDES: [usize; 4] = [1, 7_919, 104_729, 15_485_863];
