# Writes spreadsheets as somebody else might keep them, from open data sets of the package nlme: the yields of alfalfa by
# the date of its last cut (Snedecor & Cochran 1980, Statistical Methods, table 16.15.1) stand for sap a tap, the dates for
# practices, the varieties for trials; of the yields of oats by nitrogen (Yates 1935, J. R. Stat. Soc. Suppl. 2:181) only
# the gain over none is told. Headers, words, numbers and days are as a French spreadsheet has them.
# Rscript foreign.R FOLDER
library(nlme)
out <- commandArgs(trailingOnly = TRUE)[1]
words <- c(None = "Témoin (vieux chalumeaux)", S1 = "Eau de Javel", S20 = "Clapet anti-retour", O7 = "Chalumeau neuf")
per_tap <- 30 # litres a ton, so that yields are of the size of sap's
rows <- list()
for (v in levels(Alfalfa$Variety)) for (d in levels(Alfalfa$Date)) {
  y <- per_tap * Alfalfa$Yield[Alfalfa$Variety == v & Alfalfa$Date == d]
  rows[[length(rows) + 1]] <- data.frame(trial = v, site = paste("Rang", match(v, levels(Alfalfa$Variety))),
    year = 2016 + match(v, levels(Alfalfa$Variety)), what = words[[d]], mean = mean(y), n = length(y), sd = sd(y),
    gain = NA)
}
for (v in levels(Oats$Variety)) for (n in c(0.2, 0.4)) {
  at <- function(x) mean(Oats$yield[Oats$Variety == v & Oats$nitro == x])
  rows[[length(rows) + 1]] <- data.frame(trial = paste("Avoine", v), site = "Bas du rang", year = 2021,
    what = c("0.2" = "Clapet anti-retour", "0.4" = "Chute neuve")[[format(n)]], mean = NA, n = NA, sd = NA,
    gain = 100 * (at(n) / at(0) - 1))
}
t <- do.call(rbind, rows)
french <- function(x, digits) ifelse(is.na(x), "NA", sub(".", ",", formatC(x, format = "f", digits = digits), fixed = TRUE))
mean <- french(t$mean, 1)
in_gallons <- t$trial == "Ladak" # one trial in gallons, with the unit in the cell
mean[in_gallons] <- paste(french(t$mean[in_gallons] / 3.785411784, 2), "gal")
sd <- french(ifelse(in_gallons, t$sd / 3.785411784, t$sd), 2)
sd[2] <- "–"
table <- data.frame(t$trial, t$site, t$year, t$what, mean, ifelse(is.na(t$n), "n.d.", t$n), sd,
  ifelse(is.na(t$gain), "", paste(french(t$gain, 0), "%")), "84,7", paste0("15/2/", t$year), "récolté à la main")
names(table) <- c("Essai", "Érablière", "Année", "Traitement", "Eau d'érable (L/entaille)", "Nb de chambres", "Écart type",
  "Gain (%)", "Vide (kPa)", "Date d'entaillage", "Remarques")
write.table(table, file.path(out, "cahier.csv"), sep = ";", quote = FALSE, row.names = FALSE, fileEncoding = "UTF-8")
sheet <- table
sheet[["Année"]] <- t$year
sheet[["Vide (kPa)"]] <- 84.7
sheet[["Date d'entaillage"]] <- as.Date(paste0(t$year, "-02-15"))
sheet[["Gain (%)"]] <- t$gain / 100
class(sheet[["Gain (%)"]]) <- c("percentage", "numeric")
openxlsx::write.xlsx(sheet, file.path(out, "cahier.xlsx"))

# What extension people keep: the yields of barley of two years (Immer, Hayes & Powers 1934, J. Am. Soc. Agron. 26:403) in a
# column a season, in Windows-1252, with a total; dried weights of plants (Dobson 1983, An Introduction to Statistical
# Modelling, table 2.1) in a column a practice and a row a tree, in pounds and UTF-16; breaks of yarn (Tippett 1950,
# Technological Applications of Statistics, p. 106) in percent of the control, in two languages.
library(MASS)
fr <- function(x, d) sub(".", ",", formatC(x, format = "f", digits = d), fixed = TRUE)
what <- c(M = "Témoin (rien)", S = "Chalumeaux neufs", V = "Clapets", T = "Chutes neuves", P = "Eau de Javel")
b <- data.frame(paste("Rang", immer$Loc), what[as.character(immer$Var)], fr(immer$Y1, 1), fr(immer$Y2, 1))
b[3, 3] <- "n.d."
f <- file(file.path(out, "rangs.csv"), "w", encoding = "latin1")
writeLines(c("Essais du club;;;", "imprimé en mai 2019;;;", "Lieu;Ce qu'on a fait;Eau 2017 (L/ent.);Eau 2018 (L/ent.)"), f)
for (i in seq_len(nrow(b))) writeLines(paste(b[i, ], collapse = ";"), f)
writeLines(paste0("Moyenne;;", fr(base::mean(immer$Y1), 1), ";", fr(base::mean(immer$Y2), 1)), f)
close(f)
g <- unstack(PlantGrowth)
f <- file(file.path(out, "trees.txt"), "w", encoding = "UTF-16LE")
writeLines(c("\ufeffHome bush, spring 2019\t\t\t", "Tree no.\tControl (old spouts)\tCheck-valve spouts\tNew spouts + drops"), f)
for (i in 1:10) writeLines(paste(c(i, paste(formatC(10 * unlist(g[i, ]), format = "f", digits = 1), "lb")), collapse = "\t"), f)
close(f)
w <- aggregate(breaks ~ wool + tension, warpbreaks, base::mean)
w$pct <- 100 * w$breaks / w$breaks[match(w$wool, w$wool[w$tension == "L"])]
w$what <- c(L = "check", M = "peroxide", H = "IPA flush")[as.character(w$tension)]
f <- file(file.path(out, "relative.csv"), "w")
writeLines("Sugarbush,Saison,Treatment,Relative yield,Nb arbres,Remarks", f)
for (i in seq_len(nrow(w))) writeLines(sprintf("Wool %s,2019-20,%s,%.0f %%,9,%s", w$wool[i], w$what[i], w$pct[i],
  if (i == 2) "loom stopped twice" else ""), f)
close(f)
print(sapply(g, base::mean))
print(sapply(g, stats::sd))
print(w)

# Three more, in other shapes. Trees under more carbon dioxide (Curtis & Wang 1998, Oecologia 113:299; dat.curtis1998 of
# metadat), a row a paper and its arms in columns below a header of two rows, in French, some in gallons, one spread not
# known: each control is put at 60 litres. Orchard sprays (Finney 1947, Probit Analysis; OrchardSprays of R's datasets),
# a quarter of them in gallons, a row a plot, treatments by codes with their legend below, in a spreadsheet with titles
# and a total. Grasses that were chilled or not (Potvin, Lechowicz & Tardif 1990, Ecology 71:1389; CO2 of R's datasets):
# what those that were not took up more, in percent, with its standard error (by the delta method) behind it.
library(metadat)
x <- subset(dat.curtis1998, xtrt == "NONE" & m1i > m2i & !duplicated(paper))[1:10, ]
k <- 60 / x$m2i
litres <- function(v, gal) ifelse(gal, paste(fr(v / 3.785411784, 2), "gal"), fr(v, 1))
gal <- seq_len(nrow(x)) %% 4 == 0
rows <- paste(paste("Article", x$paper), 2008 + seq_len(nrow(x)), litres(k * x$m2i, gal), litres(k * x$sd2i, gal), x$n2i,
  litres(k * x$m1i, gal), litres(k * x$sd1i, gal), x$n1i, sep = ";")
rows[5] <- sub(";[^;]*;([^;]*)$", ";n.d.;\\1", rows[5])
writeLines(c("Relevé des articles;;;;;;;", "Endroit;Printemps;Témoin;;;Clapet anti-retour;;",
  ";;moyenne (L/ent.);é.-t.;n;moyenne (L/ent.);é.-t.;n", rows, "Moyenne;;60,0;;;;;", "* n.d. : non disponible;;;;;;;"),
  file.path(out, "articles.csv"))
o <- subset(OrchardSprays, treatment %in% c("E", "F", "G", "H"))
o <- data.frame(bush = ifelse(o$rowpos <= 4, "East", "West"), plot = paste0("P", seq_len(nrow(o))),
  code = c(E = "T1", F = "T2", G = "T3", H = "T4")[as.character(o$treatment)], gal = o$decrease / 4)
o <- o[order(o$bush, o$code), ]
w <- openxlsx::createWorkbook()
openxlsx::addWorksheet(w, "Spring 2021")
put <- function(v, row, col = 1) openxlsx::writeData(w, 1, v, startRow = row, startCol = col, colNames = FALSE)
put("Sanitation trial, spring 2021", 1)
put("all yields in US gallons per tap", 2)
openxlsx::mergeCells(w, 1, cols = 1:5, rows = 1)
put(t(c("Bush", "Plot", "Trt", "Sap yield (gal/tap)", "Remarks")), 4)
put(o, 5)
put("bucket upset", 7, 5)
end <- 5 + nrow(o)
put("Mean", end)
put(base::mean(o$gal), end, 4)
put(c("T1 = old spouts (control)", "T2 = new spouts", "T3 = bleach", "T4 = check valves"), end + 2)
openxlsx::saveWorkbook(w, file.path(out, "codes.xlsx"), overwrite = TRUE)
g <- aggregate(uptake ~ Type + conc + Treatment, CO2, function(y) c(base::mean(y), var(y) / length(y) / base::mean(y)^2))
a <- subset(g, Treatment == "nonchilled")
b <- subset(g, Treatment == "chilled")
ratio <- a$uptake[, 1] / b$uptake[, 1]
se <- 100 * ratio * sqrt(a$uptake[, 2] + b$uptake[, 2])
write.table(data.frame(Location = a$Type, Season = paste0("S", 12 + match(a$conc, unique(a$conc))),
  What = "Check valves", `Gain over control (%) ± SE` = sprintf("%.1f %% ± %.1f", 100 * (ratio - 1), se), check.names = FALSE),
  file.path(out, "chilled.csv"), sep = ",", row.names = FALSE, quote = FALSE)
print(data.frame(a$Type, a$conc, ratio, se)[1, ])
