//! Bead sizes against each other: effective size, uniformity, means, fines and the sieve table are of one jar of beads.
//!
//! Takes the gathered figures and the sieve table, adds an [`Unclosed`] for each disagreement. No verdict rests on
//! a bead size, so these doubts lower no certainty.

use super::closure::Unclosed;
use super::figures::Figures;
use super::policy::Policy;
use super::slot::Slot;
use super::words::{number, quantity};
use crate::record::SieveFigure;

/// Deviations of the normal law at which 10 % and 60 % are smaller.
const AT_10: f64 = -1.281_551_565_544_600_4;
const AT_60: f64 = 0.253_347_103_135_799_7;

/// Median and harmonic mean of beads whose sizes spread log-normally, from effective size (mm) and uniformity coefficient.
///
/// σ = ln UC / (z₆₀ − z₁₀); median = ES · exp(−z₁₀ σ); harmonic mean = median · exp(−σ²/2). None where no beads can
/// be so.
///
/// ```
/// // A published lot (F. de Dardel, Ion exchange resin properties, 2017): ES 0.53, UC 1.34, mean 0.68, harmonic 0.67 mm.
/// let (median, harmonic) = beadwise::judge::mean_sizes(0.53, 1.34).ok_or("no such beads")?;
/// assert!((median - 0.68).abs() < 0.005 && (harmonic - 0.67).abs() < 0.006);
/// # Ok::<(), &str>(())
/// ```
pub fn mean_sizes(effective_mm: f64, uniformity: f64) -> Option<(f64, f64)> {
    if !(effective_mm > 0.0 && uniformity >= 1.0 && effective_mm.is_finite() && uniformity.is_finite()) {
        return None;
    }
    let sigma = uniformity.ln() / (AT_60 - AT_10);
    let median = effective_mm * (-AT_10 * sigma).exp();
    Some((median, median * (-sigma * sigma / 2.0).exp()))
}

/// Shares passing each opening, in mm and per cent, from the widest down; none where the table says too little.
///
/// Retained shares are added up from the widest sieve down.
pub fn passing(sieve: &[SieveFigure]) -> Option<Vec<(f64, f64)>> {
    let kind = sieve.first()?.kind.as_str();
    let mut table: Vec<(f64, f64)> =
        sieve.iter().filter(|s| s.kind == kind && s.opening > 0.0).map(|s| (s.opening, s.value)).collect();
    if table.len() < 2 || table.iter().any(|(opening, value)| !opening.is_finite() || !value.is_finite()) {
        return None;
    }
    table.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut above = 0.0;
    for (_, value) in &mut table {
        *value = match kind {
            "passing" => *value,
            "cumulative_retained" => 100.0 - *value,
            _ => {
                above += *value;
                100.0 - above
            }
        };
    }
    Some(table)
}

/// Opening that a share (%) passes, between two sieves by the logarithm of the opening.
///
/// ```
/// use beadwise::record::SieveFigure;
/// use beadwise::judge::{passing, size_at};
/// // By hand: half way between 90 % and 10 % passing lies 50 %, at the root of 0.8 × 0.4, 0.566 mm.
/// let sieve = |opening: f64, value: f64| SieveFigure {
///     opening, value, unit: "mm".into(), kind: "passing".into(), place: Default::default(),
/// };
/// let table = passing(&[sieve(0.8, 90.0), sieve(0.4, 10.0)]).ok_or("no table")?;
/// assert!((size_at(&table, 50.0).ok_or("outside")? - 0.566).abs() < 0.001);
/// # Ok::<(), &str>(())
/// ```
pub fn size_at(passing: &[(f64, f64)], share: f64) -> Option<f64> {
    passing.windows(2).find_map(|pair| match pair {
        [(wide, above), (narrow, below)] if *above >= share && share >= *below && above > below => {
            let part = (share - below) / (above - below);
            Some((narrow.ln() + part * (wide.ln() - narrow.ln())).exp())
        }
        _ => None,
    })
}

/// Closes the sizes.
pub fn close(figures: &mut Figures, sieve: &[SieveFigure], policy: &Policy) {
    means(figures, policy);
    table(figures, sieve, policy);
}

fn at(figures: &Figures, slot: Slot) -> Option<f64> {
    figures.get(slot).filter(|figure| !figure.is_open()).map(super::figures::Figure::at)
}

fn add(figures: &mut Figures, slot: Slot, value: f64, expected: f64, slip: &str, text: String) {
    figures.unclosed.push(Unclosed {
        code: "does-not-close".to_owned(),
        property: slot.property().to_owned(),
        value,
        expected,
        unit: slot.unit().to_owned(),
        slip: slip.to_owned(),
        text: format!("{text} {slip}"),
        weighs: false,
        asks: false,
    });
}

fn slip(ratio: f64) -> &'static str {
    let near = |target: f64| (ratio / target - 1.0).abs() < 0.2;
    if near(1000.0) || near(0.001) {
        "The likeliest slip is the unit: µm against mm."
    } else if near(10.0) || near(0.1) || near(100.0) || near(0.01) {
        "The likeliest slip is a decimal point."
    } else if near(25.4) || near(1.0 / 25.4) {
        "The likeliest slip is the unit: inches against mm."
    } else {
        "One of them may be of another sample or worked by another rule; ask for the sieve table."
    }
}

fn means(figures: &mut Figures, policy: &Policy) {
    let (Some(effective), Some(uniformity)) =
        (at(figures, Slot::EffectiveSize), at(figures, Slot::UniformityCoefficient))
    else {
        return;
    };
    if uniformity < 1.0 {
        let text = format!(
            "A uniformity coefficient of {} cannot be: the size that 60 % pass is the larger one.",
            number(uniformity)
        );
        let slip = "The likeliest slip is that the ratio was turned over.";
        add(figures, Slot::UniformityCoefficient, uniformity, 1.0 / uniformity.max(1e-9), slip, text);
        return;
    }
    let Some((median, harmonic)) = mean_sizes(effective, uniformity) else { return };
    for (slot, expected) in [(Slot::MeanSize, median), (Slot::HarmonicMeanSize, harmonic)] {
        let Some(value) = at(figures, slot).filter(|value| *value > 0.0) else { continue };
        if (value / expected - 1.0).abs() > policy.limits.size_tolerance {
            let text = format!(
                "The {} {} does not fit the effective size {} and uniformity {}: they make about {}.",
                super::words::slot_name(slot),
                quantity(value, "mm"),
                quantity(effective, "mm"),
                number(uniformity),
                quantity(expected, "mm")
            );
            add(figures, slot, value, expected, slip(value / expected), text);
        }
    }
}

fn table(figures: &mut Figures, sieve: &[SieveFigure], policy: &Policy) {
    let Some(table) = passing(sieve) else { return };
    let tolerance = policy.limits.sieve_tolerance;
    let kind = sieve.first().map_or("", |s| s.kind.as_str());
    let rises = table.windows(2).any(|pair| matches!(pair, [(_, wide), (_, narrow)] if narrow > &(wide + 1e-9)));
    let left = table.last().map_or(0.0, |(_, share)| *share);
    if rises {
        let text =
            "The sieve table does not fall in order: a narrower sieve lets more pass than a wider one.".to_owned();
        add(
            figures,
            Slot::Fines,
            left,
            left,
            "The likeliest slip is two lines that have changed places, or retained shares printed as passing ones.",
            text,
        );
        return;
    }
    if kind == "retained" {
        // What passes the finest sieve is often not listed; new and used resin have little of it.
        let fines = at(figures, Slot::Fines).unwrap_or(0.0);
        if left < -tolerance || left - fines > tolerance.max(policy.limits.sieve_pan) {
            let text = format!("The shares on the sieves add up to {} %, not 100.", number(100.0 - left));
            add(
                figures,
                Slot::Fines,
                100.0 - left,
                100.0,
                "The likeliest slip is a sieve that is left out or read wrong, or shares that are cumulative.",
                text,
            );
            return;
        }
    }
    let ten = size_at(&table, 10.0);
    if let Some((value, expected)) = at(figures, Slot::EffectiveSize).filter(|v| *v > 0.0).zip(ten)
        && (value / expected - 1.0).abs() > policy.limits.size_tolerance
    {
        let text = format!(
            "The effective size {} does not fit the sieve table, which lets 10 % pass at about {}.",
            quantity(value, "mm"),
            quantity(expected, "mm")
        );
        add(figures, Slot::EffectiveSize, value, expected, slip(value / expected), text);
    }
    if let Some(((value, ten), sixty)) = at(figures, Slot::UniformityCoefficient).zip(ten).zip(size_at(&table, 60.0))
        && (value / (sixty / ten) - 1.0).abs() > policy.limits.size_tolerance
    {
        let text = format!(
            "The uniformity coefficient {} does not fit the sieve table, which makes it about {}.",
            number(value),
            number(sixty / ten)
        );
        add(figures, Slot::UniformityCoefficient, value, sixty / ten, slip(value / (sixty / ten)), text);
    }
    // 0.300 mm, or the 0.315 of metric sieves.
    let cut = table.iter().find(|(opening, _)| (0.29..=0.32).contains(opening)).map(|(_, share)| *share);
    if let Some((value, expected)) = at(figures, Slot::Fines).zip(cut)
        && (value - expected).abs() > tolerance
    {
        let text = format!(
            "Fines of {} do not fit the sieve table, which lets {} pass there.",
            quantity(value, "%"),
            quantity(expected, "%")
        );
        add(figures, Slot::Fines, value, expected, slip(value / expected.max(0.1)), text);
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a failed test is what a panic is for")]
mod tests {
    use super::*;
    use crate::judge::{Context, example, judge};

    fn sieve(kind: &str, rows: &[(f64, f64)]) -> Vec<SieveFigure> {
        let row = |(opening, value): &(f64, f64)| SieveFigure {
            opening: *opening,
            unit: "mm".to_owned(),
            kind: kind.to_owned(),
            value: *value,
            place: crate::place::Where::default(),
        };
        rows.iter().map(row).collect()
    }

    fn doubts(text: &str, sieve: Vec<SieveFigure>) -> Vec<String> {
        let mut record =
            example::record(&format!("class sac-gel-8\nform Na\ntotal_capacity volume 1.95\n{text}")).unwrap();
        record.sieve = sieve;
        judge(&record, &Context::builtin().unwrap()).doubts.into_iter().map(|doubt| doubt.text).collect()
    }

    /// A carbon maker's 12 x 30 table in grams of 100.4: 1.5, 25.1, 50.2, 22.5 and 1.1 in the pan. By hand 98.506, 73.506,
    /// 23.506 and 1.096 % pass; by the logarithm 10 % pass at 0.689 mm and 60 % at 1.080 mm.
    #[test]
    fn a_published_table_is_interpolated_as_by_hand() {
        let percent = |grams: f64| grams / 100.4 * 100.0;
        let table = passing(&sieve(
            "retained",
            &[(1.70, percent(1.5)), (1.18, percent(25.1)), (0.85, percent(50.2)), (0.60, percent(22.5))],
        ))
        .unwrap();
        for ((_, found), wanted) in table.iter().zip([98.506, 73.506, 23.506, 1.096]) {
            assert!((found - wanted).abs() < 0.001, "{found} {wanted}");
        }
        assert!((size_at(&table, 10.0).unwrap() - 0.6891).abs() < 0.0005);
        assert!((size_at(&table, 60.0).unwrap() - 1.0799).abs() < 0.0005);
    }

    /// The same beads in all three figures: ES 0.45 and UC 1.5 make a median of 0.45·exp(1.2816·0.4055/1.5349) = 0.631 mm.
    #[test]
    fn sizes_that_fit_raise_no_doubt() {
        let said = doubts("effective_size 0.45\nuniformity_coefficient 1.5\nmean_size 0.63", Vec::new());
        assert!(said.is_empty(), "{said:?}");
    }

    #[test]
    fn a_mean_in_micrometres_is_told_as_the_unit() {
        let said = doubts("effective_size 0.45\nuniformity_coefficient 1.5\nmean_size 631", Vec::new());
        assert!(said[0].contains("µm against mm") && said[0].contains("0.63 mm"), "{said:?}");
    }

    #[test]
    fn shares_past_a_hundred_are_doubted() {
        let said = doubts("", sieve("retained", &[(1.18, 5.0), (0.85, 45.0), (0.60, 54.0), (0.30, 6.0)]));
        assert!(said[0].contains("110 %"), "{said:?}");
        let fits = doubts("", sieve("retained", &[(1.18, 5.0), (0.85, 40.0), (0.60, 48.0), (0.30, 6.0)]));
        assert!(fits.is_empty(), "{fits:?}");
    }

    #[test]
    fn a_table_out_of_order_is_doubted() {
        let said = doubts("", sieve("passing", &[(1.18, 95.0), (0.85, 30.0), (0.60, 55.0)]));
        assert!(said[0].contains("narrower sieve"), "{said:?}");
    }

    /// Retained 4, 40, 50 and 5 leave 1 % under 0.30 mm; 6 % pass 0.60 and 56 % pass 0.85, so 10 % pass at
    /// 0.60·(0.85/0.60)^(4/50) = 0.617 mm.
    #[test]
    fn an_effective_size_off_its_table_is_doubted() {
        let rows = [(1.18, 4.0), (0.85, 40.0), (0.60, 50.0), (0.30, 5.0)];
        assert!(doubts("effective_size 0.62\nfines 1", sieve("retained", &rows)).is_empty());
        let said = doubts("effective_size 0.45", sieve("retained", &rows));
        assert!(said[0].contains("0.62 mm"), "{said:?}");
        let said = doubts("fines 9", sieve("retained", &rows));
        assert!(said[0].contains("Fines of 9 %"), "{said:?}");
    }
}
