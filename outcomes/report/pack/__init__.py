"""The congress pack: tables, figures, slides, poster, texts, checklists and data from one data lock."""
