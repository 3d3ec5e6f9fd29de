"""The published methods that the comparison uses."""

from __future__ import annotations

SOURCES = {
    "wilson": "Wilson EB. J Am Stat Assoc 1927;22:209-212.",
    "newcombe": "Newcombe RG. Stat Med 1998;17:873-890.",
    "cr2": "Bell RM, McCaffrey DF. Survey Methodology 2002;28:169-181.",
    "holm": "Holm S. Scand J Stat 1979;6:65-70.",
    "overlap": "Li F, Morgan KL, Zaslavsky AM. J Am Stat Assoc 2018;113:390-400.",
    "augmented": "Mao H, Li L, Greene T. Stat Methods Med Res 2019;28:2439-2454.",
    "win": "Brunner E, Munzel U. Biom J 2000;42:17-25.",
    "fdr": "Benjamini Y, Hochberg Y. J R Stat Soc B 1995;57:289-300.",
    "tipping": "Liublinska V, Rubin DB. Stat Med 2014;33:4170-4185.",
    "aalen": "Aalen OO, Johansen S. Scand J Stat 1978;5:141-150.",
    "turnbull": "Turnbull BW. J R Stat Soc B 1976;38:290-295.",
    "schemper": "Schemper M, Smith TL. Control Clin Trials 1996;17:343-346.",
    "clark": "Clark TG, Altman DG, De Stavola BL. Lancet 2002;359:1309-1310.",
    "evalue": "VanderWeele TJ, Ding P. Ann Intern Med 2017;167:268-274.",
    "strobe": "von Elm E and others, STROBE statement for cohort studies, 2007.",
    "target": "Cashin AG and others, TARGET statement. JAMA 2025, doi 10.1001/jama.2025.13350; BMJ 2025, doi 10.1136/bmj-2025-087179.",
    "process": "Mathew G and others, PROCESS 2023. Int J Surg 2023;109:3760-3769.",
    "ideal": "Hirst A and others, IDEAL framework. Ann Surg 2019;269:211-220.",
}


def cited(name: str) -> str:
    """The mark of a source in the text: its place in the list, in brackets."""
    return f"[{list(SOURCES).index(name) + 1}]"
