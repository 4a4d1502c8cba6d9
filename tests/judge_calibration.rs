//! Simulated beds with known truth: a verdict given with some certainty is right about that often.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout, reason = "a test that prints its figure")]

use beadwise::judge::{Context, Policy, Verdict, example, judge, swelling_left};

/// Numbers that repeat: a linear congruential sequence, and sums of twelve of them for the normal.
struct Chance(u64);

impl Chance {
    fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        f64::from(u32::try_from(self.0 >> 33).unwrap()) / f64::from(1_u32 << 31)
    }
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.even()).sum::<f64>() - 6.0
    }
}

/// A bed as it truly is, its jar as a laboratory prints it, and what is right for it.
///
/// Truth: one product of the class, oxidised by some points of moisture, with iron that blocks part of what it could
/// at most. Right: replace when what an acid brings back leaves it at or below 75 % of its own new capacity, clean when
/// there is iron past 3,000 mg/kg, or past 1,000 with a tenth of the capacity lost; else keep.
fn bed(chance: &mut Chance) -> (String, Verdict) {
    let capacity = 2.0 * (1.0 + 0.03 * chance.normal());
    let water = 46.0 + 1.5 * chance.normal();
    let now = water + 16.0 * chance.even();
    let iron = 10.0_f64.powf(2.0 + 2.1 * chance.even());
    let at_most = if iron > 1000.0 { iron / 1000.0 / 55.845 * 3.0 / 4.5 + iron * 1.8e-6 } else { 0.0 };
    let blocked = at_most * chance.even();
    let left = swelling_left(water, now, 1.66) * (1.0 - blocked);
    let after = left + blocked * (0.3 + 0.7 * chance.even());
    let right = if left <= 0.75 && after <= 0.75 {
        Verdict::Replace
    } else if iron > 3000.0 || (iron > 1000.0 && left <= 0.9) || left <= 0.75 {
        Verdict::Clean
    } else {
        Verdict::Keep
    };
    let printed = capacity * left * (1.0 + 0.015 * chance.normal());
    let text = format!(
        "class sac-gel-8\nform Na\nduty softening\ndrinking_water false\ntotal_capacity volume {printed:.3}\nmoisture_retention {:.1}\niron dry_mass {:.0}",
        now + 0.5 * chance.normal(),
        iron * (1.0 + 0.2 * chance.normal()).max(0.1)
    );
    (text, right)
}

#[test]
fn verdicts_are_right_as_often_as_they_are_sure() {
    let mut policy = Policy::builtin().unwrap().clone();
    policy.limits.draws = 400.0;
    let context = Context { policy: &policy, ..Context::builtin().unwrap() };
    let mut chance = Chance(7);
    // Tenths of certainty: how many verdicts, how many right, certainty in sum.
    let mut tenths = [(0_u32, 0_u32, 0.0_f64); 10];
    for _ in 0..6000 {
        let (text, right) = bed(&mut chance);
        let j = judge(&example::record(&text).unwrap(), &context);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share times ten")]
        let place = ((j.certainty * 10.0) as usize).min(9);
        tenths[place].0 += 1;
        tenths[place].1 += u32::from(j.verdict == right);
        tenths[place].2 += j.certainty;
    }
    println!("certainty  verdicts  right");
    for (count, right, sum) in tenths.iter().filter(|(count, ..)| *count > 0) {
        println!("{:9.2}  {count:8}  {:5.2}", sum / f64::from(*count), f64::from(*right) / f64::from(*count));
    }
    for (count, right, sum) in tenths.iter().filter(|(count, ..)| *count >= 100) {
        let (sure, right) = (sum / f64::from(*count), f64::from(*right) / f64::from(*count));
        assert!((sure - right).abs() < 0.13, "{sure:.2} sure, {right:.2} right of {count}");
    }
}
