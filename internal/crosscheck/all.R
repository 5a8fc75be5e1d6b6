# Rscript crosscheck/all.R DIR: every case into DIR.
args <- commandArgs(FALSE)
here <- dirname(sub("^--file=", "", grep("^--file=", args, value = TRUE)))
dir.create(commandArgs(TRUE)[1], showWarnings = FALSE, recursive = TRUE)
source(file.path(here, "common.R"))
for (script in sort(setdiff(list.files(here, "\\.R$"), c("all.R", "bench.R", "common.R")))) source(file.path(here, script))
