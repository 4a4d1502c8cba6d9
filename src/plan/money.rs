//! Money over time: present value, internal rate, equal yearly cost, payback. Prices come from the user.

/// Present value of payments at a rate for each period; the first payment is today's.
///
/// Σ payment / (1 + rate)^t, t from 0. Source: documentation of numpy-financial 1.0.0.
///
/// ```
/// // That documentation: 8 %, -40000, 5000, 8000, 12000, 30000: 3065.22267.
/// let value = beadwise::plan::money::present_value(0.08, &[-40_000.0, 5_000.0, 8_000.0, 12_000.0, 30_000.0]);
/// assert!((value - 3065.22267).abs() < 1e-5);
/// ```
pub fn present_value(rate: f64, payments: &[f64]) -> f64 {
    let mut left = 1.0;
    let mut sum = 0.0;
    for payment in payments {
        sum += payment * left;
        left /= 1.0 + rate;
    }
    sum
}

/// The rate at which payments come to nothing today; none where there is none from −99 to 10,000 %.
///
/// ```
/// // numpy-financial documentation: -100, 39, 59, 55, 20: 0.28095.
/// let rate = beadwise::plan::money::internal_rate(&[-100.0, 39.0, 59.0, 55.0, 20.0]).unwrap_or(0.0);
/// assert!((rate - 0.28095).abs() < 5e-6);
/// ```
pub fn internal_rate(payments: &[f64]) -> Option<f64> {
    let (mut low, mut high) = (-0.99, 100.0);
    let (at_low, at_high) = (present_value(low, payments), present_value(high, payments));
    if !(at_low.is_finite() && at_high.is_finite()) || at_low.signum() == at_high.signum() {
        return None;
    }
    // 200 halvings bring any of these bounds below the last bit.
    for _ in 0..200 {
        let middle = (low + high) / 2.0;
        if present_value(middle, payments).signum() == at_low.signum() {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some((low + high) / 2.0)
}

/// Equal payment at the end of each of `periods` that pays a sum off at a rate for each period.
///
/// ```
/// // numpy-financial documentation: 7.5 % a year over 180 months on 200,000: 1854.0247200054619 a month.
/// let payment = beadwise::plan::money::equal_payment(0.075 / 12.0, 180.0, 200_000.0);
/// assert!((payment - 1854.0247200054619).abs() < 1e-6);
/// ```
pub fn equal_payment(rate: f64, periods: f64, sum: f64) -> f64 {
    if rate == 0.0 { sum / periods } else { sum * rate / (1.0 - (1.0 + rate).powf(-periods)) }
}

/// Years until savings at a rate have paid their cost, the last year in part; none within the payments.
///
/// ```
/// use beadwise::plan::money::payback;
/// // 100 pays 40 a year: 2.5 years without interest.
/// assert_eq!(payback(0.0, &[-100.0, 40.0, 40.0, 40.0]), Some(2.5));
/// assert_eq!(payback(0.0, &[-100.0, 40.0, 40.0]), None);
/// ```
pub fn payback(rate: f64, payments: &[f64]) -> Option<f64> {
    let mut sum = 0.0;
    let mut left = 1.0;
    for (year, payment) in payments.iter().enumerate() {
        let now = payment * left;
        if sum < 0.0 && sum + now >= 0.0 {
            #[allow(clippy::cast_precision_loss, reason = "a horizon is a few years")]
            return Some(year as f64 - 1.0 - sum / now);
        }
        sum += now;
        left /= 1.0 + rate;
    }
    None
}
