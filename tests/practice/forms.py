"""Forms as anybody might send them: right, wrong and nonsense, in any order."""

from hypothesis import strategies as st

WORDS = st.one_of(
    st.sampled_from(
        ["L", "R", "Y", "N", "a", "b", "f", "v", "50", "50,5", "210", "0", "-3", "1e9", "9" * 40, "", "٣", "x" * 50]
    ),
    st.text(max_size=8),
)
FORM = st.fixed_dictionaries(
    {"act": st.sampled_from(
        ["side", "checks", "lining", "reads", "worksheet", "release", "mark", "stroke", "strokes", "slipped", "held",
         "done", "fix", "", "nonsense"]
    )},
    optional=dict.fromkeys(("side", "lining", "reads", "mark", "phase", "gauge", "final_mark", "fixing"), WORDS),
)  # fmt: skip
