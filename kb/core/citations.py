"""The published works that formulas follow, by the key used in docstrings and reports."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """One published work. `where` says which part of it is used."""

    authors: str
    year: int
    title: str
    published: str
    doi: str = ""
    where: str = ""

    def __str__(self) -> str:
        doi = f" doi {self.doi}" if self.doi else ""
        stop = "" if self.title.endswith("?") else "."
        return f"{self.authors} ({self.year}). {self.title}{stop} {self.published}.{doi}"


WORKS: dict[str, Work] = {
    "wilson1927": Work(
        authors="Wilson EB",
        year=1927,
        title="Probable inference, the law of succession, and statistical inference",
        published="J Am Stat Assoc 22:209-212",
        doi="10.1080/01621459.1927.10502953",
        where="score interval",
    ),
    "brysbaert2019": Work(
        authors="Brysbaert M",
        year=2019,
        title="How many words do we read per minute?",
        published="J Mem Lang 109:104047",
        doi="10.1016/j.jml.2019.104047",
        where="238 words a minute, silent reading of non-fiction",
    ),
    "nhs-check-digit": Work(
        authors="National data dictionary",
        year=2009,
        title="NHS number: check digit",
        published="data standard, Modulus 11 over weights 10 to 2",
        where="the rule quoted in full by public implementations; seen at second hand",
    ),
    "robertson2009": Work(
        authors="Robertson S, Zaragoza H",
        year=2009,
        title="The probabilistic relevance framework: BM25 and beyond",
        published="Found Trends Inf Retr 3:333-389",
        doi="10.1561/1500000019",
        where="BM25 and its field-weighted form; recalled, not read again",
    ),
    "robertson2004": Work(
        authors="Robertson S, Zaragoza H, Taylor M",
        year=2004,
        title="Simple BM25 extension to multiple weighted fields",
        published="Proc 13th Int Conf Inf Knowl Manag 42-49",
        doi="10.1145/1031171.1031181",
        where="weighting of term frequencies before they saturate; recalled, not read again",
    ),
    "amati2003": Work(
        authors="Amati G",
        year=2003,
        title="Probability models for information retrieval based on divergence from randomness",
        published="doctoral thesis",
        where="query expansion with Bose-Einstein statistics (Bo1); recalled, not read again",
    ),
    "diaz2007": Work(
        authors="Diaz F",
        year=2007,
        title="Regularizing query-based retrieval scores",
        published="Inf Retrieval 10:531-562",
        doi="10.1007/s10791-007-9034-8",
        where="documents that are alike should have like scores; recalled, not read again",
    ),
    "cover1967": Work(
        authors="Cover TM, Hart PE",
        year=1967,
        title="Nearest neighbor pattern classification",
        published="IEEE Trans Inf Theory 13:21-27",
        doi="10.1109/TIT.1967.1053964",
        where="the area of a draft is that of its neighbours; recalled, not read again",
    ),
    "damerau1964": Work(
        authors="Damerau FJ",
        year=1964,
        title="A technique for computer detection and correction of spelling errors",
        published="Commun ACM 7:171-176",
        doi="10.1145/363958.363994",
        where="the four single slips; recalled, not read again",
    ),
    "langville2005": Work(
        authors="Langville AN, Meyer CD",
        year=2005,
        title="A survey of eigenvector methods for web information retrieval",
        published="SIAM Rev 47:135-161",
        doi="10.1137/S0036144503424786",
        where="PageRank with a personalisation vector",
    ),
    "newcombe1998b": Work(
        authors="Newcombe RG",
        year=1998,
        title="Interval estimation for the difference between independent proportions",
        published="Stat Med 17:873-890",
        where="method 10, hybrid score, Table II",
    ),
    "bock1982": Work(
        authors="Bock RD, Mislevy RJ",
        year=1982,
        title="Adaptive EAP estimation of ability in a microcomputer environment",
        published="Appl Psychol Meas 6:431-444",
        where="expected posterior values by quadrature; from memory",
    ),
    "simpson2017": Work(
        authors="Simpson D, Rue H, Riebler A, Martins TG, Sorbye SH",
        year=2017,
        title="Penalising model component complexity: a principled, practical approach to"
        " constructing priors",
        published="Stat Sci 32:1-28",
        where="exponential priors on standard deviations; from memory",
    ),
    "kleinman1973": Work(
        authors="Kleinman JC",
        year=1973,
        title="Proportions with extraneous variance: single and independent samples",
        published="J Am Stat Assoc 68:46-54",
        where="beta-binomial by moments; cited from memory",
    ),
    "dawid1984": Work(
        authors="Dawid AP",
        year=1984,
        title="Statistical theory: the prequential approach",
        published="J R Stat Soc A 147:278-292",
        where="judging a model by its forecasts of what came next; cited from memory",
    ),
    "mccullagh1989": Work(
        authors="McCullagh P, Nelder JA",
        year=1989,
        title="Generalized linear models",
        published="Chapman and Hall, 2nd edition",
        where="iteratively reweighted least squares; cited from memory",
    ),
    "pavlik2009": Work(
        authors="Pavlik PI, Cen H, Koedinger KR",
        year=2009,
        title="Performance factors analysis: a new alternative to knowledge tracing",
        published="Artificial Intelligence in Education, IOS Press 200:531-538",
        where="log odds linear in counts of successes and failures",
    ),
    "wixted1991": Work(
        authors="Wixted JT, Ebbesen EB",
        year=1991,
        title="On the form of forgetting",
        published="Psychol Sci 2:409-415",
        where="forgetting as a power of time",
    ),
    "nemhauser1969": Work(
        authors="Nemhauser GL, Ullmann Z",
        year=1969,
        title="Discrete dynamic programming and capital allocation",
        published="Manage Sci 15:494-505",
        where="keeping only the unbeaten choices; cited from memory",
    ),
    "balinski1982": Work(
        authors="Balinski ML, Young HP",
        year=1982,
        title="Fair representation: meeting the ideal of one man, one vote",
        published="Yale University Press",
        where="the method of Hamilton (largest remainders)",
    ),
    "cepeda2006": Work(
        authors="Cepeda NJ, Pashler H, Vul E, Wixted JT, Rohrer D",
        year=2006,
        title="Distributed practice in verbal recall tasks: a review and quantitative synthesis",
        published="Psychol Bull 132:354-380",
        doi="10.1037/0033-2909.132.3.354",
        where="839 assessments in 317 experiments of 184 articles; seen at second hand",
    ),
    "cepeda2008": Work(
        authors="Cepeda NJ, Vul E, Rohrer D, Wixted JT, Pashler H",
        year=2008,
        title="Spacing effects in learning: a temporal ridgeline of optimal retention",
        published="Psychol Sci 19:1095-1102",
        doi="10.1111/j.1467-9280.2008.02209.x",
        where="best gaps of 3, 8, 12 and 27 days for 7, 35, 70 and 350 days; seen at second hand",
    ),
    "smith1956": Work(
        authors="Smith WE",
        year=1956,
        title="Various optimizers for single-stage production",
        published="Nav Res Logist Q 3:59-66",
        where="weight divided by length orders jobs best; cited from memory",
    ),
    "eu2003": Work(
        authors="European Parliament and Council",
        year=2003,
        title="Directive 2003/88/EC concerning certain aspects of working time",
        published="Official Journal of the European Union",
        where="articles 2, 3, 5 and 6; seen at second hand",
    ),
    "uk2016": Work(
        authors="National terms for doctors in training",
        year=2016,
        title="Terms and conditions of service, schedule 3",
        published="2016, later amended: check the current text",
        where="limits of nights and hours; seen at second hand",
    ),
    "cochran1977": Work(
        authors="Cochran WG",
        year=1977,
        title="Sampling techniques, 3rd edition",
        published="Wiley",
        where="simple and stratified random sampling; cited from memory",
    ),
    "gardner-medwin1995": Work(
        authors="Gardner-Medwin AR",
        year=1995,
        title="Confidence assessment in the teaching of basic science",
        published="ALT-J 3(1):80-85",
        doi="10.1080/0968776950030110",
        where="marks 1, 2, 3 when right and 0, -2, -6 when wrong; title and pages from memory",
    ),
    "gneiting2007": Work(
        authors="Gneiting T, Raftery AE",
        year=2007,
        title="Strictly proper scoring rules, prediction, and estimation",
        published="J Am Stat Assoc 102:359-378",
        doi="10.1198/016214506000001437",
        where="continuous ranked probability score; from memory",
    ),
    "mantel1959": Work(
        authors="Mantel N, Haenszel W",
        year=1959,
        title="Statistical aspects of the analysis of data from retrospective studies of disease",
        published="J Natl Cancer Inst 22:719-748",
        where="comparison within strata; from memory",
    ),
    "katz1978": Work(
        authors="Katz D, Baptista J, Azen SP, Pike MC",
        year=1978,
        title="Obtaining confidence intervals for the risk ratio in cohort studies",
        published="Biometrics 34:469-474",
        where="interval of a ratio on its logarithm; from memory",
    ),
    "holt1979": Work(
        authors="Holt D, Smith TMF",
        year=1979,
        title="Post stratification",
        published="J R Stat Soc A 142:33-46",
        where="weights in the strata's known proportions; from memory",
    ),
    "brier1950": Work(
        authors="Brier GW",
        year=1950,
        title="Verification of forecasts expressed in terms of probability",
        published="Mon Weather Rev 78:1-3",
        where="from memory",
    ),
    "murphy1973": Work(
        authors="Murphy AH",
        year=1973,
        title="A new vector partition of the probability score",
        published="J Appl Meteorol 12:595-600",
        where="identity of reliability, resolution and uncertainty",
    ),
    "kuder1937": Work(
        authors="Kuder GF, Richardson MW",
        year=1937,
        title="The theory of the estimation of test reliability",
        published="Psychometrika 2:151-160",
        doi="10.1007/BF02288391",
        where="formula 20; reference from memory",
    ),
    "bock1970": Work(
        authors="Bock RD, Lieberman M",
        year=1970,
        title="Fitting a response model for n dichotomously scored items",
        published="Psychometrika 35:179-197",
        where="1,000 candidates on five items",
    ),
    "tighe2010": Work(
        authors="Tighe J, McManus IC, Dewhurst NG, Chis L, Mucklow J",
        year=2010,
        title="The standard error of measurement is a more appropriate measure of quality for"
        " postgraduate medical assessments than is reliability",
        published="BMC Med Educ 10:40",
        doi="10.1186/1472-6920-10-40",
        where="SEM and the simulation of its Figure 1",
    ),
    "spearman1910": Work(
        authors="Spearman C; Brown W",
        year=1910,
        title="Correlation calculated from faulty data; Some experimental results in the"
        " correlation of mental abilities",
        published="Br J Psychol 3:271-295, 296-322",
        where="formula and pages from memory",
    ),
    "blondel2008": Work(
        authors="Blondel VD, Guillaume JL, Lambiotte R, Lefebvre E",
        year=2008,
        title="Fast unfolding of communities in large networks",
        published="J Stat Mech P10008",
        doi="10.1088/1742-5468/2008/10/P10008",
        where="grouping by modularity, as networkx carries it out; reference from memory",
    ),
    "brandes2013": Work(
        authors="Brandes U, Eiglsperger M, Lerner J, Pich C",
        year=2013,
        title="Graph markup language (GraphML)",
        published="Handbook of graph drawing and visualization, CRC Press",
        where="the file format; reference from memory",
    ),
}
