# Estimates of the ten invented surveys by the survey package: Rscript estimates.R OUT.csv
# Reads strata.csv, plots.csv and trees.csv beside this file. Everything is worked out from these
# tables alone: values of trees, sums by plot, estimates and standard errors.
suppressMessages(library(survey))
options(survey.lonely.psu = "fail", digits = 17, stringsAsFactors = FALSE)

arguments <- commandArgs(trailingOnly = FALSE)
here <- dirname(sub("^--file=", "", arguments[grep("^--file=", arguments)]))
out <- commandArgs(trailingOnly = TRUE)[1]
read <- function(name) read.csv(file.path(here, name), na.strings = "",
                                colClasses = c(plot = "character", stratum = "character")[
                                  c(name != "strata.csv", name != "trees.csv")])
strata <- read("strata.csv")
plots <- read("plots.csv")
trees <- read("trees.csv")

trees$dead <- !is.na(trees$condition) & trees$condition == "D"
trees$total_height <- 20 * (trees$tip + 10) / 100
trees$crown_depth <- 20 * (trees$tip - trees$base) / 100
trees$live_crown_ratio <- trees$crown_depth / trees$total_height
trees$basal_area <- pi / 40000 * trees$diameter^2
trees$projection_area <- pi / 4 * trees$width_widest * trees$width_across
trees$mean_width <- (trees$width_widest + trees$width_across) / 2

bounds <- c(15, 30, 45, 60, 75)
class_names <- c("under 15 cm", "15 to under 30 cm", "30 to under 45 cm", "45 to under 60 cm",
                 "60 to under 75 cm", "75 cm and more")
trees$class <- class_names[findInterval(trees$diameter, bounds) + 1]
trees$class[is.na(trees$class)] <- "no diameter"
domain_columns <- c(species = "species", "diameter class" = "class", group = "group")

# quantity: column added up ("" counts), living trees alone or all or dead ones
totals <- list(trees = c("", "all"), living_trees = c("", "living"), dead_trees = c("", "dead"),
               basal_area = c("basal_area", "living"),
               basal_area_with_dead = c("basal_area", "all"),
               crown_area = c("projection_area", "living"))
means <- c(mean_height = "total_height", mean_crown_depth = "crown_depth",
           mean_live_crown_ratio = "live_crown_ratio", mean_diameter = "diameter",
           mean_crown_width = "mean_width")

results <- list()
keep <- function(survey, scope, domain_kind, domain, quantity, kind, value, error) {
  results[[length(results) + 1]] <<- data.frame(
    survey, scope, domain_kind, domain, quantity, kind, value = value, standard_error = error)
}

# A design of plots. Plots of unequal area, and strata taken together, are calibrated to their
# area by the ratio of values to areas: the separate ratio estimate.
plot_design <- function(p, s) {
  p$size <- if (all(is.na(p$area))) 1 else p$area
  s$size <- if (all(is.na(p$area))) s$possible else s$land
  at <- match(p$stratum, s$stratum)
  sampled <- tapply(p$size, p$stratum, sum)[s$stratum]
  drawn <- as.vector(table(p$stratum)[s$stratum])
  fraction <- ifelse(is.na(s$possible), sampled / s$size, drawn / s$possible)
  p$weight <- (s$size / sampled)[at]
  p$together <- s$margin_with[at]
  # of strata taken together the one that was sampled least decides
  fraction <- tapply(fraction, s$margin_with, min)[p$together]
  p$could_be <- as.vector(table(p$together)[p$together] / fraction)
  design <- svydesign(ids = ~1, strata = ~together, weights = ~weight, fpc = ~could_be, data = p)
  groups <- unique(p$together)
  if (length(unique(p$size)) == 1 && length(groups) == nrow(s)) return(design)
  for (i in seq_along(groups)) {
    column <- ifelse(p$together == groups[i], p$size, 0)
    design$variables[[paste0("area", i)]] <- column
  }
  names <- paste0("area", seq_along(groups))
  population <- sapply(names, function(name) sum(p$weight * design$variables[[name]]))
  calibrate(design, reformulate(names, intercept = FALSE), population = population,
            variance = rep(1, length(groups)))
}

# The package multiplies the squares of a group by n / (n - 1). Where a group is of several strata,
# they fall short by another factor: residuals are M e, and the sum of M^2 is compared with that of
# the squared weights.
short_by <- function(design) {
  v <- design$variables
  raise <- rep(1, nrow(v))
  for (group in unique(v$together)) {
    at <- which(v$together == group)
    if (length(unique(v$stratum[at])) == 1) next
    w <- v$weight[at]
    m <- diag(w) %*% (diag(length(at)) - outer(v$size[at], w) / sum(w * v$size[at]))
    n <- length(at)
    raise[at] <- sqrt(sum(w^2) / sum(m^2) * (n - 1) / n)
  }
  raise
}

value_of <- function(found) c(as.numeric(coef(found)), as.numeric(SE(found)))

estimate_scope <- function(survey, scope, p, s) {
  t <- trees[trees$survey == survey & trees$plot %in% p$plot, ]
  place <- factor(t$plot, levels = p$plot)
  by_plot <- function(values) {
    sums <- tapply(values, place, sum)
    sums[is.na(sums)] <- 0
    as.numeric(sums)
  }
  # the package makes no design of one plot: it either is its whole stratum, or says nothing
  is_alone <- nrow(s) == 1 && nrow(p) == 1
  census <- s$kind[1] == "every tree" || (is_alone && isTRUE(s$possible == 1))
  if (is_alone && !census) return(invisible())
  if (!census) {
    design <- plot_design(p, s)
    raise <- short_by(design)
    design$variables$raise <- raise
  }
  error_of <- function(linear) {
    design$variables$linear <- linear
    as.numeric(SE(svytotal(~I(linear * raise), design)))
  }
  # y / x * z, or y / x, or y; in a census plain sums
  ratio_of <- function(y, x, z = NULL) {
    if (census) {
      product <- if (is.null(z)) 1 else sum(z)
      return(c(sum(y) / sum(x) * product, 0))
    }
    if (sum(x) == 0) return(c(NaN, NaN))
    design$variables$y <- y
    design$variables$x <- x
    if (is.null(z)) {
      found <- value_of(svyratio(~y, ~x, design))
      if (any(raise != 1)) {
        below <- as.numeric(coef(svytotal(~x, design)))
        found[2] <- error_of((y - found[1] * x) / below)
      }
      return(found)
    }
    design$variables$z <- z
    sums <- svytotal(~y + x + z, design)
    found <- value_of(svycontrast(sums, quote(y / x * z)))
    if (any(raise != 1)) {
      at <- coef(sums)
      found[2] <- error_of(y * at["z"] / at["x"] - x * found[1] / at["x"] + z * at["y"] / at["x"])
    }
    found
  }
  total_of <- function(y) {
    if (census) return(c(sum(y), 0))
    design$variables$y <- y
    found <- value_of(svytotal(~y, design))
    if (any(raise != 1)) found[2] <- error_of(y)
    found
  }
  land <- sum(s$land)
  everything <- by_plot(rep(1, nrow(t)))

  estimate_domain <- function(kind, name, inside) {
    for (quantity in names(totals)) {
      column <- totals[[quantity]][1]
      which <- switch(totals[[quantity]][2], all = TRUE, living = !t$dead, dead = t$dead) & inside
      counted <- by_plot(as.numeric(which))
      if (column == "") {
        found <- total_of(counted)
      } else {
        has <- which & !is.na(t[[column]])
        y <- by_plot(ifelse(has, t[[column]], 0))
        known <- by_plot(as.numeric(has))
        found <- if (all(known == counted)) total_of(y) else ratio_of(y, known, counted)
      }
      keep(survey, scope, kind, name, quantity, "total", found[1], found[2])
      keep(survey, scope, kind, name, quantity, "per area", found[1] / land, found[2] / land)
      if (quantity == "crown_area" && kind == "") {
        cover <- found / land
        keep(survey, scope, "", "", "crown_cover", "share", cover[1], cover[2])
        keep(survey, scope, "", "", "crown_cover_random_overlap", "share", 1 - exp(-cover[1]),
             cover[2] * exp(-cover[1]))
      }
    }
    for (quantity in names(means)) {
      has <- !t$dead & inside & !is.na(t[[means[[quantity]]]])
      found <- ratio_of(by_plot(ifelse(has, t[[means[[quantity]]]], 0)), by_plot(as.numeric(has)))
      keep(survey, scope, kind, name, quantity, "mean", found[1], found[2])
    }
    here <- by_plot(as.numeric(inside))
    dead <- ratio_of(by_plot(as.numeric(inside & t$dead)), here)
    keep(survey, scope, kind, name, "share_dead", "share", dead[1], dead[2])
    if (kind != "") {
      part <- ratio_of(here, everything)
      keep(survey, scope, kind, name, "share_of_trees", "share", part[1], part[2])
    }
  }

  estimate_domain("", "", rep(TRUE, nrow(t)))
  if (scope != "") return(invisible())
  for (kind in names(domain_columns)) {
    column <- t[[domain_columns[[kind]]]]
    names <- sort(unique(column[!is.na(column)]))
    if (kind == "diameter class") names <- union(class_names, names)
    for (name in names) {
      estimate_domain(kind, name, !is.na(column) & column == name)
    }
  }
}

for (survey in unique(strata$survey)) {
  p <- plots[plots$survey == survey, ]
  s <- strata[strata$survey == survey, ]
  estimate_scope(survey, "", p, s)
  if (nrow(s) > 1) {
    for (name in s$stratum) {
      alone <- s[s$stratum == name, ]
      alone$margin_with <- name
      estimate_scope(survey, name, p[p$stratum == name, ], alone)
    }
  }
}
results <- do.call(rbind, results)
for (column in c("value", "standard_error")) {
  results[[column]] <- sprintf("%.17g", results[[column]])
}
write.csv(results, out, row.names = FALSE, quote = TRUE)

# What the package itself offers for a stratum with one plot, beside the strata taken together.
lone <- list()
for (survey in c("one plot in a stratum", "two strata of one plot")) {
  p <- plots[plots$survey == survey, ]
  s <- strata[strata$survey == survey, ]
  sampled <- tapply(p$area, p$stratum, sum)[s$stratum]
  drawn <- as.vector(table(p$stratum)[s$stratum])
  at <- match(p$stratum, s$stratum)
  p$weight <- (s$land / sampled)[at]
  p$could_be <- ifelse(is.na(s$possible), drawn * s$land / sampled, s$possible)[at]
  p$trees <- sapply(p$plot, function(plot) sum(trees$survey == survey & trees$plot == plot))
  for (rule in c("adjust", "average", "certainty")) {
    options(survey.lonely.psu = rule)
    design <- svydesign(ids = ~1, strata = ~stratum, weights = ~weight, fpc = ~could_be, data = p)
    found <- value_of(svytotal(~trees, design))
    lone[[length(lone) + 1]] <- data.frame(survey, rule, value = sprintf("%.17g", found[1]),
                                           standard_error = sprintf("%.17g", found[2]))
  }
}
write.csv(do.call(rbind, lone), file.path(dirname(out), "one_plot_rules.csv"), row.names = FALSE)

# Limits of shares on the scale of logits, of simple random samples of single trees.
limits <- list()
for (case in list(c(3, 20), c(1, 12), c(19, 30), c(2, 4))) {
  d <- data.frame(y = rep(c(1, 0), c(case[1], case[2] - case[1])))
  found <- svyciprop(~y, svydesign(ids = ~1, data = d, weights = ~1), method = "xlogit")
  ends <- sprintf("%.17g", c(coef(found), SE(svymean(~y, svydesign(~1, data = d, weights = ~1))),
                             confint(found)))
  limits[[length(limits) + 1]] <- data.frame(count = case[1], of = case[2], value = ends[1],
                                             standard_error = ends[2], low = ends[3],
                                             high = ends[4])
}
write.csv(do.call(rbind, limits), file.path(dirname(out), "logit_limits.csv"), row.names = FALSE)
