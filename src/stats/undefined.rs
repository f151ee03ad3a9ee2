//! Why a number cannot be computed.

/// Why a statistic does not exist for these data: said instead of a 0, a 1 or a NaN.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Undefined {
    /// Nothing was judged.
    #[error("there are no judgements")]
    NoJudgements,
    /// No item has two judgements that could agree.
    #[error("no item was judged by two raters")]
    NoPairs,
    /// The two raters have no item in common.
    #[error("the two raters judged no item in common")]
    NoOverlap,
    /// Agreement by chance is already complete, so agreement beyond it is 0/0.
    #[error("all judgements fall into one category, so agreement beyond chance is 0/0")]
    OneCategory,
    /// A spread over items needs two of them.
    #[error("one item alone does not show how items differ")]
    OneItem,
    /// One rater alone cannot agree.
    #[error("one rater alone has nobody to agree with")]
    OneRater,
    /// The design has gaps.
    #[error("some rater did not judge some item, and this needs every item judged by every rater")]
    Incomplete,
    /// The items have different numbers of judgements.
    #[error(
        "items have unequal numbers of judgements, and this error is known for equal numbers only"
    )]
    UnequalJudgements,
    /// The statistic knows two categories only.
    #[error("this is defined for two categories only")]
    NotTwoCategories,
    /// The scale of a statistic must have at least two categories.
    #[error("the scale has one category; declare the others with --categories")]
    OneCategoryScale,
    /// The statistic needs numbers.
    #[error("this needs values that are numbers")]
    NotNumbers,
    /// Every value is the same.
    #[error("no judgement differs from another, so variances are 0/0")]
    NoVariance,
    /// The estimate stands at its end without any spread over items, so a formula interval has no width.
    #[error("every item shows the same agreement, so a formula gives an interval without width")]
    NoSpread,
    /// Too few raters to know how raters differ.
    #[error("fewer than five raters do not show how raters differ")]
    FewRaters,
    /// Without one of the raters the statistic does not exist.
    #[error(
        "without one of the raters the estimate is undefined, so the spread over raters is unknown"
    )]
    RaterNeeded,
    /// Too few resamples have a value.
    #[error("too few resamples have a value")]
    FewResamples,
    /// No rater judged every item alike or all rows are alike, so Q is 0/0.
    #[error("every item was judged alike by all raters, so Q is 0/0")]
    NoDisagreement,
    /// More categories than a table of pairs can hold.
    #[error("there are more than 100 different values; kappa of pairs needs categories")]
    ManyCategories,
    /// A step-up formula passed its pole.
    #[error(
        "the estimate for one rater is so far below zero that the step to the mean of raters has no meaning"
    )]
    PastPole,
    /// Signal detection needs tokens of both kinds.
    #[error("check words of both kinds are needed, correct and distorted")]
    OneKindOfCheck,
    /// No token was heard again.
    #[error("no word was heard again")]
    NoRepeats,
    /// Too few judgements to see a drift.
    #[error("fewer than ten judgements at different places show no drift")]
    FewJudgements,
    /// All answers are alike.
    #[error("all answers are alike, so there is no drift to see")]
    OneAnswer,
    /// A fit found no end.
    #[error("the fit did not converge")]
    NoConvergence,
}
