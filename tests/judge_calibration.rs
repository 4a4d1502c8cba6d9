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
/// there is iron past 3,000 mg/kg, or past 1,000 where a tenth of the capacity is lost and an acid would usually bring
/// back a fiftieth; else keep.
fn cation(chance: &mut Chance) -> (String, Verdict) {
    let capacity = 2.0 * (1.0 + 0.03 * chance.normal());
    let water = 46.0 + 1.5 * chance.normal();
    let now = water + 16.0 * chance.even();
    let iron = 10.0_f64.powf(2.0 + 2.1 * chance.even());
    let at_most = if iron > 1000.0 { iron / 1000.0 / 55.845 * 3.0 / 4.5 + iron * 1.8e-6 } else { 0.0 };
    let blocked = at_most * chance.even();
    let worth_it = 0.7 * at_most >= 0.02;
    let left = swelling_left(water, now, 1.66) * (1.0 - blocked);
    let after = left + blocked * (0.3 + 0.7 * chance.even());
    let right = if left <= 0.75 && after <= 0.75 {
        Verdict::Replace
    } else if iron > 3000.0 || (worth_it && left <= 0.9) || left <= 0.75 {
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

/// An anion bed: strong sites turned weak by age, others covered by organic matter, of which brine and caustic bring
/// back a tenth to six tenths. Any part of the covered ones may show as weak, for organic acids exchange ions too.
///
/// Right: replace when that leaves it at or below 60 % of its own new strong-base capacity, clean past 6,000 mg/L of
/// permanganate demand, or past 3,000 with 15 % lost; else keep.
fn anion(chance: &mut Chance) -> (String, Verdict) {
    let capacity = 1.24 * (1.0 + 0.03 * chance.normal());
    let organics = 10.0_f64.powf(2.5 + 1.7 * chance.even());
    let weak = 0.4 * chance.even();
    let covered = if organics > 6000.0 { 0.3 * chance.even() } else { 0.0 };
    let left = 1.0 - weak - covered;
    let after = left + covered * (0.1 + 0.5 * (chance.even() + chance.even()) / 2.0);
    let right = if left <= 0.6 && after <= 0.6 {
        Verdict::Replace
    } else if organics > 6000.0 || (organics > 3000.0 && left <= 0.85) || left <= 0.6 {
        Verdict::Clean
    } else {
        Verdict::Keep
    };
    let printed = |value: f64, chance: &mut Chance| value * (1.0 + 0.015 * chance.normal());
    let strong = printed(capacity * left, chance);
    let weak = printed(0.06 + capacity * (weak + covered * chance.even()), chance);
    let text = format!(
        "class sba1-gel\nform Cl\nduty demineralizing\ndrinking_water false\nsalt_splitting_capacity volume {strong:.3}\nweak_capacity volume {weak:.3}\norganics_permanganate volume {:.0}",
        organics * (1.0 + 0.2 * chance.normal()).max(0.1)
    );
    (text, right)
}

/// Judges simulated beds and sets what their verdicts claimed against how often they were right.
fn calibrate(name: &str, bed: fn(&mut Chance) -> (String, Verdict)) {
    let mut policy = Policy::builtin().unwrap().clone();
    policy.limits.draws = 200.0;
    let context = Context { policy: &policy, ..Context::builtin().unwrap() };
    let mut chance = Chance(7);
    // Tenths of certainty: how many verdicts, how many right, certainty in sum.
    let mut tenths = [(0_u32, 0_u32, 0.0_f64); 10];
    for _ in 0..2500 {
        let (text, right) = bed(&mut chance);
        let j = judge(&example::record(&text).unwrap(), &context);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share times ten")]
        let place = ((j.certainty * 10.0) as usize).min(9);
        tenths[place].0 += 1;
        tenths[place].1 += u32::from(j.verdict == right);
        tenths[place].2 += j.certainty;
    }
    println!("{name}\ncertainty  verdicts  right");
    for (count, right, sum) in tenths.iter().filter(|(count, ..)| *count > 0) {
        println!("{:9.2}  {count:8}  {:5.2}", sum / f64::from(*count), f64::from(*right) / f64::from(*count));
    }
    for (count, right, sum) in tenths.iter().filter(|(count, ..)| *count >= 80) {
        let (sure, right) = (sum / f64::from(*count), f64::from(*right) / f64::from(*count));
        assert!((sure - right).abs() < 0.13, "{name}: {sure:.2} sure, {right:.2} right of {count}");
    }
}

#[test]
fn verdicts_on_cation_beds_are_right_as_often_as_they_are_sure() {
    calibrate("gel cation", cation);
}

#[test]
fn verdicts_on_anion_beds_are_right_as_often_as_they_are_sure() {
    calibrate("type 1 anion", anion);
}
