# Two open datasets written as evidence tables, so that tables which nobody here made go through the whole chain.
# Neither is about maple sap: the practices are stand-ins, to check the machinery.
#
#   Rscript crosscheck/table.R sheet/testdata
#
# curtis1998.csv: dat.curtis1998 of metadat: biomass of woody plants under elevated carbon dioxide, mean, sd and n of
#   each group (Curtis & Wang 1998, Oecologia 113:299). Ambient stands as `unsanitized`, elevated as `new-spout`; a
#   paper stands as the site, and 1998, the year of the review, as every season.
# immer1934.csv: immer of MASS: barley yields of five varieties at six places in 1931 and 1932, one number each (Immer,
#   Hayes & Powers 1934, J. Am. Soc. Agron. 26:403). Manchuria stands as `unsanitized`, Svansota as `new-spout`, Velvet
#   as `check-valve`, Trebi as `silver-spout`, Peatland as `alcohol-flush`.
suppressPackageStartupMessages({ library(metadat); library(MASS) })
dir <- commandArgs(trailingOnly = TRUE)[1]

save <- function(name, lines, d) {
  path <- file.path(dir, name)
  writeLines(paste("#", lines), path)
  suppressWarnings(write.table(d, path, append = TRUE, sep = ",", row.names = FALSE, na = "", qmethod = "double",
                               quote = which(vapply(d, is.character, TRUE)), fileEncoding = "UTF-8"))
}

d <- dat.curtis1998
words <- function(x) paste0(substr(x, 1, 1), tolower(substr(x, 2, nchar(x))))
arm <- function(practice, m, sd, n) data.frame(
  study = sprintf("Curtis %d", d$id), site = sprintf("paper %d", d$paper), season = 1998L, practice = practice,
  kind = "replicated", unit = "tree", mean = m, n = n, sd = sd,
  species = paste(words(d$genus), tolower(d$species)),
  source = "Curtis & Wang 1998, Oecologia 113:299 (dat.curtis1998 of metadat)",
  days = d$time, method = d$method)
both <- rbind(arm("unsanitized", d$m2i, d$sd2i, d$n2i), arm("new-spout", d$m1i, d$sd1i, d$n1i))
both <- both[order(rep(seq_len(nrow(d)), 2)), ]
save("curtis1998.csv", c(
  "A stand-in to check the machinery; not about maple sap. Written by crosscheck/table.R.",
  paste0("dat.curtis1998 of metadat ", packageVersion("metadat"),
         ": ambient carbon dioxide stands as unsanitized, elevated as new-spout, a paper as the site.")), both)

practices <- c(M = "unsanitized", S = "new-spout", V = "check-valve", T = "silver-spout", P = "alcohol-flush")
year <- function(season, mean) data.frame(
  study = paste("place", immer$Loc, season), site = paste("place", immer$Loc), season = season,
  practice = unname(practices[as.character(immer$Var)]), kind = "unreplicated", mean = mean,
  source = "Immer, Hayes & Powers 1934, J. Am. Soc. Agron. 26:403 (immer of MASS)")
save("immer1934.csv", c(
  "A stand-in to check the machinery; not about maple sap. Written by crosscheck/table.R.",
  paste0("immer of MASS ", packageVersion("MASS"), ": Manchuria stands as unsanitized, Svansota as new-spout, Velvet as",
         " check-valve, Trebi as silver-spout, Peatland as alcohol-flush.")), rbind(year(1931L, immer$Y1), year(1932L, immer$Y2)))
